// Package demo is the written-down vehicle model behind the demonstration logs.
//
// It drives an invented car up an invented hill and writes what a logger would
// have written. One seed gives one run, byte for byte, on one architecture: a
// single goroutine, a PCG generator of its own, no clock, no map order. Every
// number in a log comes from here; nothing is copied from a real car.
//
// # The model
//
// Time advances in steps of 1 ms (semi-implicit Euler). All quantities are SI
// inside; pressures are absolute unless a name says gauge.
//
//   - Course (course.go): curvature and height over distance. The greatest speed
//     in a corner follows from v²·κ = μ·(g + ½·ρ·ClA·v²/m); one pass from the far
//     end limits it to what the brakes can do. The driver follows that line.
//   - Motion (motion.go): (m + J·i²/r²)·dv/dt = F − ½·ρ·CdA·v² − m·g·(Crr + slope),
//     F no more than the driven axle can hold. Road speed and engine speed are
//     tied by v = ω·r/(i·iF) while the clutch is closed.
//   - Engine (engine.go): torque = V/(4π)·(k·ve(rpm)·p − friction), p the pressure in
//     the manifold. Boost follows its target, a function of rpm and throttle, with a lag.
//   - Gearbox (shift.go): a shift takes about 50 ms, longer when the oil pressure is
//     low; engine speed moves from the old ratio to the new one meanwhile. The clutch slips
//     at a launch until both sides turn alike.
//   - Hydraulics (hydraulics.go): nitrogen in the accumulator, dT = −(γ−1)·T·dV/V and an
//     exchange of heat with the shell, p = nR·T/V; a pump between two pressures.
//   - Wing (wing.go): I·φ″ = (p−p0)·A·a + ½ρv²·S·CN·x − F·b ∓ Mf, the cylinder fed and
//     vented through orifices (sonic conductance form, ISO 6358, from memory), isothermal.
//   - Brakes (brakes.go): force in proportion to pressure, the lost energy into the discs.
//   - Temperatures and oil pressure (heat.go): rise of a lumped body; pressure over rpm at
//     90 °C from a table, falling with temperature.
//   - Sensors (sensors.go): uniform noise of a stated amplitude, then rounding, so the error
//     of any logged value has a hard bound.
//
// # Where the figures come from
//
// The technical data are the invented car's own. Figures of the trade are common
// practice: rolling resistance 0.015, tyre grip 1.4 to 1.6, iron at 460 J/(kg·K), a nitrogen
// exponent of 1.4, a shift of 40 to 60 ms, pump between 115 and 190 bar, precharge
// a little under the lowest working pressure, closing time of a vented cylinder set by
// its exhaust orifice, logging rates from 5 Hz for temperatures to 1000 Hz for dampers.
//
// # Truth
//
// A [Recording] carries, beside what was logged, the model's own answer to each
// measure a rule is likely to take, found at every step before any sensor, and
// bounds that the same measure taken from the logged samples cannot leave.
package demo
