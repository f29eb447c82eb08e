//go:build !unix

package main

import (
	"net"
	"net/url"
	"os"
	"time"
)

// lockFile has no lock of the system here: a desk has the file if one answers at the address in it.
func lockFile(f *os.File) (taken bool, err error) {
	u, err := url.Parse(readHolder(f).Address)
	if err != nil || u.Host == "" {
		return false, nil // nobody is named in it
	}
	c, err := net.DialTimeout("tcp", u.Host, time.Second)
	if err != nil {
		return false, nil // nobody answers there: it was left behind
	}
	return true, c.Close()
}
