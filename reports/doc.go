// Package reports renders results: text for people, CSV and JSON lines for
// programs, figures for reviews, and a folder that holds them all. Every
// renderer takes names, symbols, units and order from result.Columns, works on
// one shot at a time where its format lets it, and never prints by itself.
//
// A value that is not measurable (NaN) is "-" in text, an empty cell in CSV
// and null in JSON.
package reports
