// Package life works out what each part has used of its life. It folds the register, the
// records of fitting and the run sheets, and looks ahead along the plan. Life belongs to
// the serial: what a run used counts for every part that was on the car in that run, itself
// or inside another. What is not known is kept between bounds and never taken as zero.
// It knows nothing of rules, expressions or logs.
package life
