// Package api is the interface for programs: JSON over HTTP below /api/v1, and
// the state as a stream of events. What it understands and what it says stands
// in openapi.json, which it serves itself and which its tests hold it to.
//
// Reading has no effect on the kettle. Heat takes two requests, arm and start;
// off takes one, needs nobody's leave and waits for nothing.
package api
