package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller/unit"
)

// A real element heats only after a person at this terminal has said what arming
// asks for. There is no option that says it in advance, and no pipe is taken for
// a person: a line in a script would go on saying that the element is covered on
// the day when it is not. What was typed, or pasted, before a question stood
// there is thrown away for the same reason, and so a script cannot answer all at
// once. The litres are typed as read from the kettle, for which no default can
// stand. Whoever wants to try the test in a script has the simulator.

// Why there is no heat.
var (
	errNoTerminal = errors.New("this heats a real element, and a person at a terminal has to say first what has been seen at the kettle: " +
		"run it in a terminal, with no pipe or file for its input and its messages (over ssh: ssh -t)")
	errNoAnswer = errors.New("there was no answer")
	errTooLate  = errors.New("it took longer than five minutes, and what was true then may not be any more")
)

// person is who answers at a terminal.
type person struct {
	in   *os.File
	out  io.Writer
	gone <-chan struct{} // closed when he ends the program
	late chan struct{}   // closed when his answers are too old
	stop func()
}

// atTerminal is the person at the terminal of a call; the error says that there
// is none. His answers are good for five minutes from now, as an arming is.
func atTerminal(ctx context.Context, c *call) (*person, error) {
	in, ok := c.in.(*os.File)
	messages, seen := c.err.(*os.File)
	if !ok || !seen || forget(in) != nil || forget(messages) != nil {
		return nil, errNoTerminal
	}
	p := &person{in: in, out: c.err, gone: ctx.Done(), late: make(chan struct{})}
	p.stop = wall.After(daemon.ArmedFor, func() { close(p.late) })
	return p, nil
}

// ask puts a question and waits for one line. Whatever is no whole line is no
// answer.
func (p *person) ask(question string) (string, error) {
	if err := forget(p.in); err != nil {
		return "", errNoAnswer
	}
	if _, err := io.WriteString(p.out, question+" "); err != nil {
		return "", err
	}
	line := make(chan string, 1)
	go func() { // a terminal cannot be read with a deadline: this may wait until the program ends
		b := make([]byte, 128)
		n, err := p.in.Read(b)
		if err != nil {
			n = 0
		}
		line <- string(b[:n])
	}()
	select {
	case <-p.gone:
	case <-p.late:
	case text := <-line:
		if answer, whole := strings.CutSuffix(text, "\n"); whole {
			return strings.TrimSpace(answer), p.over()
		}
	}
	return "", cmp.Or(p.over(), errNoAnswer)
}

// over is why an answer does not count any more; nil if it does.
func (p *person) over() error {
	select {
	case <-p.gone:
		return errNoAnswer
	case <-p.late:
		return errTooLate
	default:
		return nil
	}
}

// must wants one word and no other.
func (p *person) must(statement, word string) error {
	answer, err := p.ask(fmt.Sprintf("%s\n  Type %s if it is so:", statement, word))
	if err != nil {
		return err
	}
	if answer != word {
		return fmt.Errorf("%q is not %s, to: %s", answer, word, strings.TrimSpace(statement))
	}
	return nil
}

// litres asks for the volume in the kettle.
func (p *person) litres(question string) (unit.Litres, error) {
	answer, err := p.ask(question)
	if err != nil {
		return 0, err
	}
	if v, err := strconv.ParseFloat(answer, 64); err == nil {
		answer = strconv.FormatFloat(v, 'g', -1, 64) + " L"
	}
	volume, err := unit.ParseLitres(answer)
	if err != nil {
		return 0, fmt.Errorf("the litres in the kettle: %w", err)
	}
	return volume, nil
}

// arm asks a person for all that a water test on a real element needs, and
// returns what the kettle holds. Any error means that nothing may heat.
func (p *person) arm(t *readyTest) (unit.Litres, error) {
	if _, err := io.WriteString(p.out, t.caution()); err != nil {
		return 0, err
	}
	words := say.ToArm()
	water, err := p.litres(words.Litres)
	if err != nil {
		return 0, err
	}
	if err := t.fits(water); err != nil {
		return 0, err
	}
	for _, statement := range []string{words.Clear, words.Shut, words.RCD, t.hands()} {
		if err := p.must(statement, "yes"); err != nil {
			return 0, err
		}
	}
	return water, p.must(t.last(water), "heat")
}
