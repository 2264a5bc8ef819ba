"""The nouns, frozen. Numbers stay text as written; properties give floats where a sum needs one."""
