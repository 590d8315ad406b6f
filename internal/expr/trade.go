package expr

func tradeFunctions() []*function { return nil }
