package demo

// Physical constants.
const (
	gravity     = 9.80665  // m/s²
	airConstant = 287.05   // J/(kg·K), dry air
	zeroCelsius = 273.15   // K
	rpmPerRad   = 9.549297 // rpm per rad/s, 60/2π
	bar         = 1e5      // Pa
	step        = 1e-3     // s, the model's time step
)

// Car holds the technical data the model needs, in SI.
type Car struct {
	Name      string
	Mass      float64   // kg, with driver
	DragArea  float64   // m², Cd·A
	LiftArea  float64   // m², downforce coefficient times area
	Rolling   float64   // rolling resistance coefficient
	Grip      float64   // tyre friction coefficient
	RearShare float64   // share of the weight on the driven axle under power
	Radius    float64   // m, rolling radius
	Ratios    []float64 // first gear first
	Final     float64
	Driveline float64 // efficiency
	Engine    Engine
	ShiftTime float64 // s, at a working pressure of 120 bar, or by hand
	UpShift   float64 // rpm
	Hydraulic *Hydraulics
	Wing      *Wing
	BrakeGain float64 // N of retarding force per Pa of front line pressure
	BrakeBias float64 // front share of the retarding force
	DiscHeat  float64 // J/K, both front discs
	OilLine   Curve   // gauge Pa over rpm, oil at 90 °C
}

// Tern3 is the Ashgill Tern 3: its technical data as in its folder's car.yaml.
func Tern3() Car {
	return Car{
		Name: "AY-T3-001", Mass: 1100, DragArea: 1.05, LiftArea: 2.6, Rolling: 0.015, Grip: 1.5, RearShare: 0.64,
		Radius: 0.295, Ratios: []float64{2.92, 2.21, 1.77, 1.47, 1.26, 1.10}, Final: 3.90, Driveline: 0.93,
		Engine: Engine{
			Capacity: 1620e-6, Inertia: 0.11, Idle: 1150, Limit: 7600, Launch: 4800,
			Boost: 2.60 * bar, SpoolTime: 0.38, Turbo: 141000,
		},
		ShiftTime: 0.050, UpShift: 7350,
		Hydraulic: &Hydraulics{
			Volume: 0.25e-3, Precharge: 85 * bar, PumpOn: 115 * bar, PumpOff: 190 * bar,
			PumpFlow: 100e-6, Leak: 0.6e-6, ShiftOil: 2.5e-6, ReturnOil: 5.5e-6,
		},
		Wing: &Wing{
			Closed: 38, Open: 9, SpringMoment: 680 * 0.085, Friction: 4, Inertia: 0.15,
			Area: 0.31, NormalForce: 1.15, Centre: 0.030, Piston: 1.257e-3, Arm: 0.0754, Dead: 10e-6,
			Supply: 9 * bar, OpenTime: 0.24, CloseTime: 0.27,
		},
		BrakeGain: 15400 / (75 * bar), BrakeBias: 0.59, DiscHeat: 2 * 7.2 * 460,
		OilLine: Curve{{1000, 1.6 * bar}, {3000, 3.1 * bar}, {5000, 4.6 * bar}, {7000, 5.6 * bar}, {7600, 5.8 * bar}},
	}
}

// Fallow9 is the second, different car: front engine without a turbo, wet sump, shift by
// hand, no wing.
func Fallow9() Car {
	return Car{
		Name: "MH-F9-02", Mass: 890, DragArea: 0.72, LiftArea: 0.35, Rolling: 0.015, Grip: 1.25, RearShare: 0.56,
		Radius: 0.290, Ratios: []float64{2.66, 1.93, 1.55, 1.28, 1.07}, Final: 4.30, Driveline: 0.92,
		Engine:    Engine{Capacity: 1995e-6, Inertia: 0.13, Idle: 1050, Limit: 7200, Launch: 4200, SpoolTime: 0.05},
		ShiftTime: 0.28, UpShift: 6900,
		BrakeGain: 11500 / (70 * bar), BrakeBias: 0.64, DiscHeat: 2 * 5.6 * 460,
		OilLine: Curve{{1000, 1.4 * bar}, {3000, 2.9 * bar}, {5000, 4.2 * bar}, {7200, 4.9 * bar}},
	}
}

// Curve is a table joined by straight lines and held level beyond its ends.
type Curve [][2]float64

// At reads the curve.
func (c Curve) At(x float64) float64 {
	if x <= c[0][0] {
		return c[0][1]
	}
	for i := 1; i < len(c); i++ {
		if x <= c[i][0] {
			a, b := c[i-1], c[i]
			return a[1] + (b[1]-a[1])*(x-a[0])/(b[0]-a[0])
		}
	}
	return c[len(c)-1][1]
}
