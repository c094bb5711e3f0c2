package schema

import (
	"slices"
	"strings"
	"testing"

	"mashward/cmd/internal/notice"
)

// The list of events has no key of its own that the other tests would look at.
func TestTheEventsAndFieldsOfNotificationsAreTheReaders(t *testing.T) {
	events := toTell().Properties[2].is.Items.Enum
	if !slices.Equal(events, notice.Kinds()) {
		t.Errorf("the schema knows %q, the reader %q", events, notice.Kinds())
	}
	if want := "{" + strings.Join(notice.Fields(), "}, {") + "}"; fields() != want {
		t.Errorf("the schema names\n%s\nthe reader\n%s", fields(), want)
	}
	for _, field := range notice.Fields() {
		if notice.Explained(field) == "" {
			t.Errorf("{%s} is explained nowhere", field)
		}
	}
}
