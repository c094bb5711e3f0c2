//go:build !race

package main

const everyClock = true
