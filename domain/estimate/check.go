package estimate

// Check reports what Solve would refuse in a book, without solving it: an
// *InputError, or nil.
func (b Book) Check() error {
	_, err := newReader().network(&b)
	return err
}

// CheckMeasurement reports what Solve would refuse in one more measurement of a
// book, without looking at the others: an *InputError whose Path starts with
// "Measurement", or nil.
func CheckMeasurement(b Book, m Measurement) error {
	c, err := newReader().catalogueOf(&b)
	if err != nil {
		return err
	}
	for other := range b.measurements() {
		if other.ID == m.ID && m.ID != "" {
			return fault("Measurement.ID", "an ID that no other measurement has", "the measurement ID %q is taken", m.ID)
		}
	}
	_, err = c.read(&m, "Measurement")
	return err
}
