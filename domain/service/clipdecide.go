package service

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"

	"delaybook/domain"
)

// RejectClip notes that nothing is taken of a clip, and why. Doing so again for
// the same reason changes nothing.
func (c *Clips) RejectClip(ctx context.Context, r Request, id string, match Match, reason string) (ClipView, error) {
	var bad domain.Fields
	checkText(&bad, "/reason", reason, required)
	if err := bad.Err("The rejection is not valid."); err != nil {
		return ClipView{}, err
	}
	sum := decisionFingerprint("reject", reason)
	return c.change(ctx, r, id, match, func(clip *Clip) error {
		if clip.State == ClipRejected && clip.Decision.Fingerprint == sum {
			return errAsItIs
		}
		if clip.State.Running() || clip.State == ClipAccepted {
			return domain.Errorf(domain.Conflict, "The clip is %s: only one that stands still and is not accepted can be rejected.", clip.State)
		}
		clip.State = ClipRejected
		clip.Decision = &ClipDecision{By: r.Caller.Key, At: c.service.now(), Reason: reason, Fingerprint: sum}
		return nil
	})
}

// CancelClip calls the analysis of a clip off.
func (c *Clips) CancelClip(ctx context.Context, r Request, id string, match Match) (ClipView, error) {
	return c.change(ctx, r, id, match, func(clip *Clip) error {
		if clip.State == ClipCancelled {
			return errAsItIs
		}
		if !clip.State.Running() {
			return domain.Errorf(domain.Conflict, "The clip is %s: there is no analysis to call off.", clip.State)
		}
		now := c.service.now()
		clip.State, clip.EndedAt = ClipCancelled, &now
		return nil
	})
}

// AnalyseClip has a clip analysed again, with other options. The newest result
// replaces the one before.
func (c *Clips) AnalyseClip(ctx context.Context, r Request, id string, match Match, o AnalysisOptions) (ClipView, error) {
	var bad domain.Fields
	checkOptions(&bad, &o)
	bad.Check(o.Method == "" || (&Clip{Options: o}).analysed(), "method", fmt.Sprintf("%q is not a way of analysing", short(string(o.Method))), "clip or tracks")
	for i := range bad {
		bad[i].Pointer = "/" + bad[i].Pointer
	}
	if err := bad.Err("The options are not valid."); err != nil {
		return ClipView{}, err
	}
	return c.change(ctx, r, id, match, func(clip *Clip) error {
		if clip.State == ClipAccepted {
			return domain.Errorf(domain.Conflict, "The clip is accepted: strike its measurements out and send the recording again.")
		}
		if !clip.Kept {
			return domain.Errorf(domain.Conflict, "The recording was deleted: send it again.")
		}
		if o.Method == "" {
			o.Method = clip.Options.Method
		}
		now := c.service.now()
		clip.Options = o
		if !clip.analysed() {
			return domain.Errorf(domain.Conflict, "The clip is stepped by eye: say the method clip or tracks.")
		}
		clip.Ask.Method = string(o.Method)
		clip.queue(now)
		clip.Decision = nil
		return nil
	})
}

// DeleteClip deletes the recording of a clip and calls its analysis off. A clip
// that was accepted stays as the evidence of its measurements, without its
// recording; any other is gone.
func (c *Clips) DeleteClip(ctx context.Context, r Request, id string, match Match) (ClipView, error) {
	v, err := c.change(ctx, r, id, match, func(clip *Clip) error {
		if clip.State == ClipAccepted && !clip.Kept {
			return errAsItIs
		}
		if clip.State != ClipAccepted {
			clip.State, clip.Result, clip.Evidence = ClipDeleted, nil, nil
		}
		clip.KeepUntil = c.service.now() // the host of its files deletes them at its next round
		if clip.Host == c.Files.Host() {
			clip.Kept = false
		}
		return nil
	})
	if err == nil && !v.Kept {
		err = c.Files.Remove(v.ID)
	}
	return v, err
}

// decisionFingerprint tells a repeat of a decision from another one.
func decisionFingerprint(parts ...any) domain.Digest {
	text, err := json.Marshal(parts)
	if err != nil {
		panic(fmt.Sprintf("service: a decision of plain fields can not be written as JSON: %v", err))
	}
	return sha256.Sum256(text)
}
