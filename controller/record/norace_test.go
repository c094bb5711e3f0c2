//go:build !race

package record

const everyNth = 1
