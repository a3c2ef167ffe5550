// Package report prints what analysis found: for the trainer at a terminal, for
// a mail, for a spreadsheet, for a script and for the owner. It judges nothing
// and knows no clock, store or environment: everything printed follows from the
// arguments, so the same arguments give the same bytes.
package report
