package service

import (
	"context"
	"slices"

	"delaybook/domain"
)

// A CheckRecord is one check of a rig: what was predicted from everything else,
// and what was read.
type CheckRecord struct {
	Measurement MeasurementView
	PredictedMS float64 // of the reading, from all other measurements
	MeasuredMS  float64
	Predicted   bool    // false: nothing else tells
	Ratio       float64 // of their difference to its standard deviation
	Inside      bool
	Surprise    string
}

// Checks returns the record of prediction against check of a rig, newest first.
func (s *Service) Checks(ctx context.Context, r Request, name string) ([]CheckRecord, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return nil, err
	}
	solution, err := s.solution(b)
	if err != nil {
		return nil, err
	}
	var out []CheckRecord
	for _, m := range slices.Backward(rig.Measurements) {
		if m.Struck != nil || m.FirstSig != domain.Picture || m.SecondSig != domain.Sound || !isCheck(rig, m) {
			continue
		}
		shown, err := s.showMeasurement(ctx, b, rig, m)
		if err != nil {
			return nil, err
		}
		record := CheckRecord{Measurement: shown, MeasuredMS: meanMS(m.Readings)}
		if revision, ok := rig.Revision(m.Revision); ok {
			if d, ok := revision.Layout.Destination(m.ReadAt); ok {
				l, _ := limit(b, d.Limit)
				record.Inside = l.Window().Contains(record.MeasuredMS)
			}
		}
		if report, ok := solution.Report(m.ID.String()); ok {
			record.PredictedMS, record.Predicted, record.Ratio = report.PredictedMS, !report.Uncheckable, report.Ratio
			record.Surprise = surprise(report.Doubtful, report.Cause)
		}
		out = append(out, record)
	}
	return out, nil
}

// surprise names why a check does not fit what was predicted, empty if it does.
func surprise(doubtful bool, cause string) string {
	switch {
	case !doubtful:
		return ""
	case cause == "":
		return "unexplained"
	}
	return cause
}
