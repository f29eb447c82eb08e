//go:build !linux

package main

// giveWay does nothing where a thread has no priority of its own.
func giveWay() {}
