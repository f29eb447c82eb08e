//go:build !cgo

package main

// useCarriedData does nothing: a program without image support reads no print.
func useCarriedData() {}
