//go:build !race

package notify

const wholeDays = true
