package cell

import (
	"bytes"
	"encoding/base64"
	"fmt"

	"go.starlark.net/starlark"

	"keelmark/plots"
)

// picture is a figure as a PNG alone, for notebooks that go where nothing else is shown.
type picture struct {
	figure
	dpi int
}

func makePicture(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var v starlark.Value
	dpi := 150
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "figure", &v, "dpi?", &dpi); err != nil {
		return nil, err
	}
	f, ok := v.(figure)
	if !ok {
		return nil, fmt.Errorf("png takes a figure, not a %s; an analysis has them in .figures", v.Type())
	}
	if dpi < 50 || dpi > 600 {
		return nil, fmt.Errorf("png: dpi is %d; use 50 to 600 dots per inch", dpi)
	}
	return picture{f, dpi}, nil
}

// bundle draws the picture.
func (p picture) bundle() (Bundle, error) {
	var b bytes.Buffer
	if err := p.PNG(&b, plots.Print(), p.dpi); err != nil {
		return nil, err
	}
	return Bundle{"image/png": base64.StdEncoding.EncodeToString(b.Bytes()), "text/plain": p.Alt}, nil
}
