package life

import (
	"fmt"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
)

func TestSmoke(t *testing.T) {
	f, faults := car.Open("../../testdata/cars/tern-3")
	fmt.Println(faults.Err())
	s, faults := Of(f, f.AsOf)
	fmt.Println(faults.Err())
	j, err := schema.JSON(s.Value)
	fmt.Println(string(j), err)
}
