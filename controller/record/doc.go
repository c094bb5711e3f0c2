// Package record keeps what happened in one batch: every tick, with all that
// is needed to run it again and all that came of it, in one append-only file.
//
// Shell: it writes files and has a goroutine. It reads no clock; the caller
// says when the batch began.
//
// # The bytes
//
//	file   = "mashward record 1\n" block block block ...
//	block  = kind (1 byte) | length of payload (uvarint) | payload | sum (4 bytes, little endian)
//
// The first block is the head, the second a start; then ticks, with a
// checkpoint every minute and at every change of step or state, and at last an
// end. A gap stands where ticks were lost because storage did not take them. About
// once a minute a forecast says how the batch was thought to go on; nothing is
// decided by it.
//
// The sum is CRC-32C (Castagnoli polynomial, RFC 3720) over kind, length and
// payload, carried on from the block before. So a block that is damaged,
// missing, doubled or out of order ends the reading there: what is read is
// always a true beginning of what was written.
//
// # A tick
//
// A tick is a row of numbers, and mostly it is as foreseen from the row before
// (row.go): time goes on by a second, the target stays. A payload holds a set
// of bits that says which columns are not as foreseen, how far those are off,
// the commands, proposals and events of this tick, and a hash of the whole
// decision. What belongs to one tick is in one block: a power cut takes all of
// it or none.
//
// # A checkpoint
//
// A checkpoint is the whole controller.State and interlock.Guard after the
// tick before it (plain.go). From any of them a replay can start.
//
// # Loss
//
// The tick never waits for storage. It encodes into a bounded buffer; a
// goroutine appends and syncs: every 4 s while something is earned, or may be
// counted back. A power cut costs what was decided since then and while the
// sync was under way. When storage stalls for longer than the buffer lasts,
// ticks are dropped, counted (Recorder.Lost) and, once storage is back, written
// down as a gap. What was not confirmed by a sync is kept in memory, and after
// an error it is cut off and written again: after a sync that failed a later
// one that succeeds says nothing about the bytes before it.
//
// What was synced is taken to stay as it is. A card that spoils a whole block
// when power fails while its end is rewritten may take seconds before that too.
package record
