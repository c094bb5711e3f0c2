package wall

import (
	"os"
	"strings"
	"syscall"
)

// unsynced is the kernel's bit for a clock that nobody keeps (STA_UNSYNC,
// adjtimex(2)).
const unsynced = 0x40

// ThisBoot is the present start of the computer.
func ThisBoot() Boot {
	var b Boot
	if id, err := os.ReadFile("/proc/sys/kernel/random/boot_id"); err == nil {
		b.ID = strings.TrimSpace(string(id))
	}
	var t syscall.Timex
	if _, err := syscall.Adjtimex(&t); err == nil {
		b.Synced = t.Status&unsynced == 0
	}
	return b
}
