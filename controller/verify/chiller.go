package verify

// chilled tells that something cold hangs in the kettle.
func (t *Tick) chilled() bool { return t.Chiller || t.Metal }

// seeChiller waits, when the chiller is closed, until the wort that it has cooled has
// met the rest: at the probe that looks like heat.
func (r *round) seeChiller() {
	s := r.s
	if s.Chills && !r.t.Chiller {
		s.Mixing = max(s.Mixing, sceneBlank)
		r.restart(sceneBlank)
	}
	s.Chills = r.t.Chiller
}
