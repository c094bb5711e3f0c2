package observer

import "mashward/controller/unit"

// Driven is the power that has left the element.
func (f *Filter) Driven(x *Vector) unit.Watts { return unit.Watts(x[power]) }

// Seen is the temperature of the probe by the model, °C.
func (f *Filter) Seen(x *Vector) float64 { return x[probe] }
