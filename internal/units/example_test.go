package units_test

import (
	"fmt"

	"github.com/paintmark/paintmark/internal/units"
)

func ExampleParse() {
	q, _ := units.Parse("95 °C")
	fmt.Println(q.SI, q.Type)
	_, err := units.Parse("1,5 bar")
	fmt.Println(err)
	// Output:
	// 368.15 temperature
	// `1,5 bar` has a comma in its number; write `1.5 bar`
}

func ExampleCompare() {
	gauge, _ := units.Parse("4 barg")
	absolute, _ := units.Parse("5 bara")
	bare, _ := units.Parse("3.8 bar")
	fmt.Println(units.Compare(gauge.Type, absolute.Type))
	fmt.Println(units.Compare(gauge.Type, bare.Type))
	// Output:
	// a gauge pressure does not compare with an absolute one; going from one to the other takes the station pressure
	// <nil>
}

func ExampleFormat() {
	celsius, _ := units.Lookup("°C")
	fmt.Println(units.Format(395.15, celsius, -1))
	fmt.Println(units.Format(-2, celsius.AsDifference(), -1))
	// Output:
	// 122 °C
	// -2 °C
}
