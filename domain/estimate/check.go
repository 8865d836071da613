package estimate

// Check reports what Solve would refuse in a book, without solving it: an
// *InputError, or nil.
func (b Book) Check() error {
	_, err := newNetwork(&b)
	return err
}

// CheckMeasurement reports what Solve would refuse in one more measurement of a
// book, without looking at the others: an *InputError whose Path starts with
// "Measurement", or nil.
func CheckMeasurement(b Book, m Measurement) error {
	c, err := newCatalogue(&b)
	if err != nil {
		return err
	}
	for i := range b.Measurements {
		if b.Measurements[i].ID == m.ID && m.ID != "" {
			return fault("Measurement.ID", "an ID that no other measurement has", "the measurement ID %q is taken", m.ID)
		}
	}
	_, err = c.read(&m, nil, "Measurement")
	return err
}
