// Package report shows people what came of a session: as a picture of one time axis, and as tables
// of plain text. It only shows; every number in it was measured elsewhere.
//
// Times are in seconds from the session's start and are printed as m:ss.s. Levels are in dB re
// 20 µPa, currents in A RMS, masses in g. A figure that is absent is never shown as 0.
package report
