package demo

import "delaybook/domain/service"

const (
	hd2997 = "1080p2997"
	hd25   = "1080p25"
	sound  = "default"
)

func ptr[T any](x T) *T { return &x }

func picture(slug, format string) service.NewMode { return service.NewMode{Slug: slug, Format: format} }

func both() []service.NewMode {
	return []service.NewMode{picture(hd2997, "1080p29.97"), picture(hd25, "1080p25")}
}

// catalogue returns the devices of the demo. The names say what they are and
// belong to nobody.
func catalogue() []service.NewDevice {
	return []service.NewDevice{
		{
			Slug: "cam-a", Name: "Remote head camera, type A", Kind: "camera", Modes: both(),
			Units: []service.NewUnit{{Tag: "C-014"}, {Tag: "C-015"}, {Tag: "C-016"}, {Tag: "C-017"}},
		},
		{
			Slug: "cam-b", Name: "Studio camera, type B", Kind: "camera", Modes: both(),
			Units: []service.NewUnit{{Tag: "B-001"}, {Tag: "B-002"}, {Tag: "B-003"}},
		},
		{
			Slug: "mixer-s", Name: "Video switcher, type S", Kind: "video switcher", Modes: both(),
			Controls: []service.NewControl{
				frameDelay("mic-1-delay", "audio page, input 5"), frameDelay("mic-2-delay", "audio page, input 6"),
			},
			Units: []service.NewUnit{{Tag: "S-001"}, {Tag: "S-002"}},
		},
		{Slug: "link-l", Name: "Wireless picture link, type L", Kind: "wireless link", Modes: both()},
		{Slug: "conv-c", Name: "Cross converter, type C", Kind: "converter", Modes: both()},
		{Slug: "store-f", Name: "Frame store, type F", Kind: "frame store", Modes: both()},
		{Slug: "extend-x", Name: "Line extender pair, type X", Kind: "converter", Modes: both()},
		{Slug: "radio-mic-w", Name: "Radio microphone, type W", Kind: "microphone", Modes: []service.NewMode{{Slug: sound}}},
		{
			Slug: "mic-p", Name: "Wired microphone, type P", Kind: "microphone",
			Modes: []service.NewMode{{Slug: sound, Direct: []string{"sound"}}},
		},
		{
			Slug: "desk-d", Name: "Digital audio desk, type D", Kind: "audio desk", Modes: []service.NewMode{{Slug: sound}},
			Controls: []service.NewControl{{
				Slug: "output-delay", Signal: "sound", Unit: "ms", Step: "0.5", Max: "500", Where: "outputs, matrix 1, delay",
				ActsOn: "the matrix that feeds the programme",
			}},
		},
		{Slug: "screen-h", Name: "Hall screen, type H", Kind: "display", Modes: both()},
		{Slug: "pa-h", Name: "Loudspeaker processor, type H", Kind: "loudspeaker processor", Modes: []service.NewMode{{Slug: sound}}},
	}
}

func frameDelay(slug, where string) service.NewControl {
	return service.NewControl{Slug: slug, Signal: "sound", Unit: "frame", Max: "8", Where: where, ActsOn: "this input, before the mix"}
}

type statedOf struct {
	device string
	service.NewStated
}

// stated returns what the handbooks of the demo's devices say.
func stated() []statedOf {
	return []statedOf{
		{"radio-mic-w", service.NewStated{
			Mode: sound, Signal: "sound", ValueMS: ptr(3.0), HalfWidthMS: ptr(0.5), Source: "handbook of type W, page 12",
		}},
		{"desk-d", service.NewStated{
			Mode: sound, Signal: "sound", ValueMS: ptr(1.2), HalfWidthMS: ptr(0.2), Source: "handbook of type D, page 40",
		}},
	}
}
