// Package readiness makes the pieces one answer: it opens a car folder, plans what applies,
// runs the checks on the evidence, and weighs what they found.
package readiness
