// Package viewer writes results as one self-contained HTML file: summary, curves,
// a table of the shots and their waveforms, to be opened offline, zoomed, printed
// and handed on. It measures nothing; what the page calls a trial is computed in
// the page and marked as such.
//
// Script and style are our own, embedded as they stand in page.js and page.css; a
// content-security policy allows these two and nothing else, and no request leaves
// the page. Text of captures and set-ups is escaped wherever it stands.
package viewer
