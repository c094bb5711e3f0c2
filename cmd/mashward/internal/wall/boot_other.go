//go:build !linux

package wall

// ThisBoot knows nothing here: a person is asked.
func ThisBoot() Boot { return Boot{} }
