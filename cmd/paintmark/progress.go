package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/mattn/go-isatty"
)

// progressOn tells a person how far a long read has come, on one line that is wiped when
// it is done. Where w is no terminal it says nothing: the words would end up in a file.
func progressOn(w io.Writer) (progress func(done, total int64), finish func()) {
	file, ok := w.(*os.File)
	if !ok || !isatty.IsTerminal(file.Fd()) {
		return nil, func() {}
	}
	shown := false
	next := time.Now().Add(time.Second / 2) // a read that is over at once needs no words
	progress = func(done, total int64) {
		now := time.Now()
		if now.Before(next) {
			return
		}
		next, shown = now.Add(time.Second/10), true
		words := fmt.Sprintf("reading %.1f MB", float64(done)/1e6)
		if total > 0 {
			words += fmt.Sprintf(" of %.1f", float64(total)/1e6)
		}
		fmt.Fprintf(file, "\r%-40s", words)
	}
	return progress, func() {
		if shown {
			fmt.Fprintf(file, "\r%-40s\r", "")
		}
	}
}
