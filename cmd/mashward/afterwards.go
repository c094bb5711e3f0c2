package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/bundle"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/report"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/suggest"
	"mashward/controller/record"
	"mashward/controller/unit"
)

// afterwards are the options of what is made of records.
type afterwards struct {
	out    string
	tariff price
}

func (a *afterwards) options(o *options) {
	o.StringVar(&a.out, "out", "", "`file` to write, for report and bundle")
	a.tariff.options(o)
}

// price is a flag for a tariff; without one that of the rig counts.
type price config.Tariff

func (p *price) options(o *options) {
	o.Var(p, "tariff", "`price` of energy, such as '0.32 EUR/kWh'; counts before the rig's")
}

func (p *price) String() string { return config.Tariff(*p).String() }

// Set implements flag.Value.
func (p *price) Set(text string) error {
	t, err := config.ParseTariff(text)
	*p = price(t)
	return err
}

// account is what a record, or the one in a bundle, comes to.
func (a *afterwards) account(path string) (out account.Account, err error) {
	err = withStorage(path, func(storage record.Storage) error {
		if out, err = account.Read(storage); err != nil {
			return &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("%s: %w", path, err)}
		}
		return nil
	})
	if a.tariff.Currency != "" {
		out.Price(config.Tariff(a.tariff))
	}
	return out, err
}

// accountText is what a batch comes to, for a person: energy and its cost, who was
// waited for, where the mash was.
func accountText(a *account.Account) string {
	text := fmt.Sprintf("energy %.2f kWh", unit.Joules(a.Energy.Joules).KilowattHours())
	if p := a.Energy.Planned; p != nil {
		text += fmt.Sprintf(", planned %.2f kWh", unit.Joules(*p).KilowattHours())
	}
	if c := a.Energy.Cost; c != nil {
		text += fmt.Sprintf(", %.2f %s", c.Amount, c.Currency)
	}
	waited := 0.0
	for _, w := range a.Waits {
		waited += w.Seconds
	}
	text += fmt.Sprintf("\nwaited for persons %s in all\n", say.Length(time.Duration(waited*float64(time.Second))))
	var minutes []string
	for _, w := range a.Windows {
		if w.Seconds >= 60 {
			minutes = append(minutes, fmt.Sprintf("%.0f to %.0f °C %.0f min", w.Low, w.High, w.Seconds/60))
		}
	}
	if len(minutes) > 0 {
		text += "mash at " + strings.Join(minutes, ", ") + "\n"
	}
	return text
}

// shownRecord is a record with what it suggests.
type shownRecord struct {
	account.Account
	Suggestion *suggest.Told `json:"suggestion,omitempty"`
}

// compareRecords is `mashward record compare`.
func (c *call) compareRecords(paths []string, after *afterwards, asJSON bool) error {
	if len(paths) != 2 {
		return usage("record: compare takes two records, such as one.batch other.batch, not %d", len(paths))
	}
	a, err := after.account(paths[0])
	if err != nil {
		return err
	}
	b, err := after.account(paths[1])
	if err != nil {
		return err
	}
	both := account.Compare(&a, &b)
	if asJSON {
		return c.json(both)
	}
	return both.Text(c.out)
}

// reportRecord is `mashward record report`.
func (c *call) reportRecord(path string, after *afterwards) error {
	if after.out == "" {
		return usage("record: where should the report go? Add --out FILE.html")
	}
	_, told := learned(path)
	return withStorage(path, func(storage record.Storage) error {
		r, err := report.FromRecord(storage, config.Tariff(after.tariff))
		if err != nil {
			return &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("%s: %w", path, err)}
		}
		r.Suggestion = told
		var page bytes.Buffer
		if err := report.HTML(&page, r); err != nil {
			return err
		}
		return writeOut(after.out, page.Bytes())
	})
}

// bundleRecord is `mashward record bundle`.
func (c *call) bundleRecord(path string, after *afterwards) error {
	if after.out == "" {
		return usage("record: where should the bundle go? Add --out FILE.tar")
	}
	return withStorage(path, func(storage record.Storage) error {
		packed, err := bundle.Pack(storage)
		if err != nil {
			return &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("%s: %w", path, err)}
		}
		if err := writeOut(after.out, packed); err != nil {
			return err
		}
		fmt.Fprintf(c.err, "%s holds the names of profile, steps and additions as they are: read them before you give it away\n", after.out)
		return nil
	})
}

// writeOut writes a file that is not there yet: a slip must not cost a record.
func writeOut(path string, text []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, os.ErrExist) {
		return usage("%s is there already; name another file, or remove it", path)
	}
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	_, err = f.Write(text)
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	return nil
}
