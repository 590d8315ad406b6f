//go:build !linux

package runlog

func wantHugePages([]float64) {}
