//go:build !linux

package runlog

func wantHugePages([]byte) {}
