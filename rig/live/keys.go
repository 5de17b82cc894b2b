package live

import (
	"fmt"

	"quern/rig"
)

// Keyed is a scale whose keys can be pressed from here. Each call returns when the command is sent; only the readings show
// whether the scale obeyed.
type Keyed interface {
	Tare() error
	Zero() error
}

// press presses a key of the scale. The session, if one is open, gets a remark: the indication steps without anything having
// been laid on the pan.
func (e *Engine) press(a Ask) error {
	d := e.sup.Device(rig.Scale)
	if d == nil {
		return errNoScale
	}
	scale, ok := d.(Keyed)
	if !ok {
		return fmt.Errorf("%s takes no commands: press the key on it", d.Name())
	}
	if s := e.Now().State; !a.Force && s != rig.Off && s != rig.Tripped && s != rig.Unknown {
		return fmt.Errorf("the motor runs and shakes the pan: %s the scale when it stands, or force it", a.Act)
	}
	if a.Act == Tare {
		return scale.Tare()
	}
	return scale.Zero()
}

// pressed is what a session keeps of a key that was pressed from here.
func pressed(a Act) string {
	if a == Tare {
		return "the scale was told to tare"
	}
	return "the scale was told to zero"
}
