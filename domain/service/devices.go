package service

import (
	"context"
	"fmt"
	"slices"

	"delaybook/domain"
	"delaybook/domain/book"
)

// NewDevice is what a new device needs.
type NewDevice struct {
	Slug     string
	Name     string
	Kind     string
	Notes    string
	Modes    []NewMode
	Controls []NewControl
	Units    []NewUnit
}

// A DevicePatch changes the plain fields that are not nil.
type DevicePatch struct {
	Slug  *string
	Name  *string
	Kind  *string
	Notes *string
}

// AddDevice adds a device to the catalogue. It needs the role editor.
func (s *Service) AddDevice(ctx context.Context, r Request, in NewDevice) (*domain.Device, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return nil, err
	}
	return s.writeDevice(ctx, r, func(b *book.Book) (*domain.Device, error) {
		d := &domain.Device{ID: domain.DeviceID{UUID: s.newID()}, Name: in.Name, Kind: domain.Kind(in.Kind), Notes: in.Notes}
		var bad domain.Fields
		d.Slug = checkSlug(&bad, "/slug", in.Slug)
		checkDevice(&bad, d)
		for i, m := range in.Modes {
			s.addMode(&bad, fmt.Sprintf("/modes/%d", i), d, m)
		}
		for i, c := range in.Controls {
			s.addControl(&bad, fmt.Sprintf("/controls/%d", i), d, c)
		}
		for i, u := range in.Units {
			s.addUnit(&bad, fmt.Sprintf("/units/%d", i), d, u)
		}
		return d, bad.Err("The device is not valid.")
	})
}

func checkDevice(bad *domain.Fields, d *domain.Device) {
	checkText(bad, "/name", d.Name, required)
	checkText(bad, "/notes", d.Notes, optional)
	bad.Check(d.Kind.Valid(), "/kind", fmt.Sprintf("%q is not a kind of device", short(string(d.Kind))), kindList())
}

func kindList() string {
	list := "one of"
	for i, k := range domain.Kinds() {
		if i > 0 {
			list += ","
		}
		list += " " + string(k)
	}
	return list
}

// writeDevice stores the device that change returns, whole.
func (s *Service) writeDevice(
	ctx context.Context, r Request, change func(b *book.Book) (*domain.Device, error),
) (*domain.Device, error) {
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		d, err := change(b)
		if err != nil {
			return draft{}, err
		}
		if other, ok := b.DeviceBySlug(d.Slug); ok && other.ID != d.ID && !d.Retired {
			return draft{}, taken409("/slug", "device", string(d.Slug))
		}
		d.Version = next
		return draft{facts: &domain.Facts{Devices: []domain.Device{*d}}, subject: d.ID.String()}, nil
	}, viewDevice)
}

func viewDevice(b *book.Book, id string) (*domain.Device, error) {
	d, _ := b.Device(domain.DeviceID{UUID: mustID(id)})
	return d, nil
}

// Devices returns the devices that are not retired, in order of slug.
func (s *Service) Devices(ctx context.Context, r Request) ([]*domain.Device, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(b.Devices(), func(d *domain.Device) bool { return d.Retired }), nil
}

// Device returns the device that name (its slug or identifier) names.
func (s *Service) Device(ctx context.Context, r Request, name string) (*domain.Device, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	return device(b, name)
}

func device(b *book.Book, name string) (*domain.Device, error) {
	if d, ok := b.DeviceBySlug(domain.Slug(name)); ok {
		return d, nil
	}
	if id, ok := parseID(name); ok {
		if d, ok := b.Device(domain.DeviceID{UUID: id}); ok {
			return d, nil
		}
	}
	return nil, domain.Errorf(domain.NotFound, "There is no device %q.", name)
}

// editDevice stores a changed copy of a device.
func (s *Service) editDevice(
	ctx context.Context, r Request, name string, match *Match, edit func(b *book.Book, d *domain.Device) error,
) (*domain.Device, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return nil, err
	}
	return s.writeDevice(ctx, r, func(b *book.Book) (*domain.Device, error) {
		old, err := device(b, name)
		if err != nil {
			return nil, err
		}
		if match != nil {
			if err := match.check(old.Version); err != nil {
				return nil, err
			}
		}
		changed := *old
		changed.Modes = slices.Clone(old.Modes)
		changed.Controls = slices.Clone(old.Controls)
		changed.Units = slices.Clone(old.Units)
		return &changed, edit(b, &changed)
	})
}

// PatchDevice changes plain fields of a device. It needs the role editor.
func (s *Service) PatchDevice(ctx context.Context, r Request, name string, m Match, p DevicePatch) (*domain.Device, error) {
	return s.editDevice(ctx, r, name, &m, func(_ *book.Book, d *domain.Device) error {
		var bad domain.Fields
		if p.Slug != nil {
			d.Slug = checkSlug(&bad, "/slug", *p.Slug)
		}
		if p.Name != nil {
			d.Name = *p.Name
		}
		if p.Kind != nil {
			d.Kind = domain.Kind(*p.Kind)
		}
		if p.Notes != nil {
			d.Notes = *p.Notes
		}
		checkDevice(&bad, d)
		return bad.Err("The device is not valid.")
	})
}

// RetireDevice takes a device out of the catalogue: it stays where rigs and
// measurements name it, and its slug becomes free. It needs the role editor.
func (s *Service) RetireDevice(ctx context.Context, r Request, name string, m Match) error {
	_, err := s.editDevice(ctx, r, name, &m, func(b *book.Book, d *domain.Device) error {
		if rig := firstRigWith(b, d.ID); rig != nil {
			e := domain.Errorf(domain.Conflict, "A rig in use has the device: take it out of every rig first.")
			if r.Caller.sees(rig) {
				e.Message = fmt.Sprintf("The rig %q has the device: take it out of every rig first.", rig.Slug)
			}
			return e
		}
		d.Retired = true
		return nil
	})
	return err
}

// firstRigWith returns a rig whose latest revision has the device, nil if none.
func firstRigWith(b *book.Book, id domain.DeviceID) *book.Rig {
	for _, r := range b.Rigs() {
		if !r.Deleted && r.Current().Layout.Uses(id) {
			return r
		}
	}
	return nil
}

// ModeNames returns the slugs of a device and one of its modes.
func (s *Service) ModeNames(d domain.DeviceID, m domain.ModeID) (device, mode string) {
	found, ok := s.current.Load().Device(d)
	if !ok {
		return "", ""
	}
	if in, ok := found.ModeByID(m); ok {
		mode = string(in.Slug)
	}
	return string(found.Slug), mode
}
