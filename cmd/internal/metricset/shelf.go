package metricset

import "sync/atomic"

// places is how many samples may be read at once while a new one is laid out.
const places = 8

// shelf holds the newest sample. One writes, any number read, none waits. The
// newest stays as it is while anyone reads it; the next goes to another place.
type shelf struct {
	newest atomic.Pointer[place]
	places [places]place
}

type place struct {
	readers atomic.Int32
	sample  Sample
}

// put lays out a sample. With readers at all other places it is left out, and
// the one before stays for one more tick.
func (s *shelf) put(sample *Sample) {
	newest := s.newest.Load()
	for i := range s.places {
		p := &s.places[i]
		if p != newest && p.readers.Load() == 0 {
			p.sample = *sample
			s.newest.Store(p)
			return
		}
	}
}

// get copies the newest sample. A place counts as being read only if it still
// is the newest after the reader has been counted: the writer may else have
// taken it in between.
func (s *shelf) get() (Sample, bool) {
	for {
		p := s.newest.Load()
		if p == nil {
			return Sample{}, false
		}
		p.readers.Add(1)
		if s.newest.Load() == p {
			sample := p.sample
			p.readers.Add(-1)
			return sample, true
		}
		p.readers.Add(-1)
	}
}
