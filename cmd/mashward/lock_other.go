//go:build !linux

package main

// lockState locks nothing here: no real kettle is driven.
func lockState(string) (unlock func(), err error) { return func() {}, nil }
