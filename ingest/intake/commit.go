package intake

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

const (
	journalFile  = ".keelmark-import.json"
	stagePattern = ".keelmark-import-*"
)

// journal says what is to happen once all copies lie in the stage. Its presence, whole, is the moment from which
// an import will be done.
type journal struct {
	Stage string // folder of the copies, below the flock's
	Moves []move
	Log   string // the line for imports.log, without its end
}

// move puts one staged file in its place, after the file that lies there is kept.
type move struct {
	Staged, Name, Hash string
	Kept               string // staged copy of the file that is replaced; "" where there is none
	OldHash, Earlier   string
}

// Commit does what the plan says. Until all copies are made, an error or the end of ctx leaves the folder as it was;
// from then on it runs to its end, and what a crash leaves, Resume finishes.
//
// One import at a time changes a folder: a second one is an error that names the cure, and so is a folder that was
// changed since Prepare looked at it.
func (p *Plan) Commit(ctx context.Context, on record.Day) (err error) {
	if p.Nothing() {
		return nil
	}
	if p.step == nil {
		p.step = func() {}
	}
	_, err = os.Stat(p.Dir)
	made := errors.Is(err, fs.ErrNotExist)
	if err := os.MkdirAll(p.Dir, 0o755); err != nil {
		return err
	}
	release, err := lock(p.Dir)
	if err != nil {
		return err
	}
	defer func() {
		err = errors.Join(err, release())
		if err != nil && made {
			_ = os.Remove(p.Dir) // fails where somebody has put something into it
		}
	}()
	if err := p.unchanged(ctx); err != nil {
		return err
	}
	if Interrupted(p.Dir) {
		return errors.New("an earlier import into this folder was interrupted or still runs; finish it first with keelmark import --flock " + p.Dir)
	}
	stage, err := os.MkdirTemp(p.Dir, stagePattern)
	if err != nil {
		return err
	}
	j, err := p.stage(ctx, stage, on)
	if err == nil {
		err = writeJournal(p.Dir, j, p.step)
	}
	if err != nil {
		return errors.Join(err, os.RemoveAll(stage))
	}
	return finish(p.Dir, j, p.step)
}

// unchanged refuses a folder whose files are not those that the plan was made for.
func (p *Plan) unchanged(ctx context.Context) error {
	now, err := hashes(ctx, p.Dir)
	if err != nil {
		return err
	}
	for _, name := range sortedKeys(now) {
		if p.there[name] != now[name] {
			return fmt.Errorf("%s in %s has changed since this import looked at it (another import, or an open spreadsheet program?); nothing was done, import again", name, p.Dir)
		}
	}
	for _, name := range sortedKeys(p.there) {
		if now[name] == "" {
			return fmt.Errorf("%s has gone from %s since this import looked at it; nothing was done, import again", name, p.Dir)
		}
	}
	return nil
}

// stage copies the new files, and those that they replace.
func (p *Plan) stage(ctx context.Context, stage string, on record.Day) (journal, error) {
	p.step()
	j := journal{Stage: filepath.Base(stage), Log: p.logLine(on)}
	for i, it := range p.Items {
		if !it.Copied() {
			continue
		}
		m := move{Staged: fmt.Sprintf("new-%d", i), Name: it.Name, Hash: it.Hash, OldHash: it.OldHash, Earlier: filepath.ToSlash(it.Earlier)}
		// Prepare's own copy is the one that was read and hashed; the file given may change at any time.
		if err := exactCopy(ctx, filepath.Join(p.aside, "given", fmt.Sprint(i)), filepath.Join(stage, m.Staged), it.Hash, p.step); err != nil {
			return j, err
		}
		if it.Action == Replace {
			m.Kept = fmt.Sprintf("old-%d", i)
			if err := exactCopy(ctx, filepath.Join(p.Dir, it.Name), filepath.Join(stage, m.Kept), it.OldHash, p.step); err != nil {
				return j, err
			}
		}
		j.Moves = append(j.Moves, m)
	}
	sides, err := p.stageSides(ctx, stage)
	if err != nil {
		return j, err
	}
	j.Moves = append(j.Moves, sides...)
	return j, ctx.Err()
}

func exactCopy(ctx context.Context, from, to, hash string, step func()) error {
	got, err := copyTo(ctx, from, to, step)
	if err == nil && got != hash {
		err = fmt.Errorf("%s changed while it was imported; save and close it, then import again", from)
	}
	step()
	return err
}

// logLine is the line of imports.log: date, files with their hashes, counts; parted by tabs.
func (p *Plan) logLine(on record.Day) string {
	parts := []string{on.String()}
	for _, it := range p.Items {
		switch it.Action {
		case Add:
			parts = append(parts, fmt.Sprintf("new %s sha256:%s", strconv.Quote(it.Name), it.Hash))
		case Replace:
			parts = append(parts, fmt.Sprintf("edited %s sha256:%s, before sha256:%s kept as %s", strconv.Quote(it.Name), it.Hash, it.OldHash, strconv.Quote(filepath.ToSlash(it.Earlier))))
		case Same, Skip:
			// Nothing happens to these.
		}
	}
	for _, s := range p.sides {
		parts = append(parts, fmt.Sprintf("taken along %q sha256:%s", s.name, s.hash))
	}
	birds, records, questions := 0, 0, 0
	for _, d := range p.After {
		birds, records, questions = birds+len(d.Birds), records+len(d.Observations)+len(d.Events), questions+len(d.Questions)
	}
	return strings.Join(append(parts, fmt.Sprintf("the flock then: birds %d, records %d, questions %d", birds, records, questions)), "\t")
}

// writeJournal writes the journal and has it on disk. One that a crash cut short does not parse, and counts as none.
func writeJournal(dir string, j journal, step func()) error {
	data, err := json.MarshalIndent(j, "", " ")
	if err != nil {
		return err
	}
	f, err := os.OpenFile(filepath.Join(dir, journalFile), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	step()
	_, err = f.Write(data[:len(data)/2])
	step()
	if err == nil {
		_, err = f.Write(data[len(data)/2:])
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	syncDir(dir)
	step()
	return nil
}

// Resume finishes an import that was interrupted after its copies were made, and clears away one that was
// interrupted before. It returns the line that it logs, "" where there was nothing to finish.
func Resume(dir string) (string, error) { return resume(dir, func() {}) }

func resume(dir string, step func()) (line string, err error) {
	if err := folder(dir); err != nil {
		return "", err
	}
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	release, err := lock(dir)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, release()) }()
	data, err := os.ReadFile(filepath.Join(dir, journalFile))
	if errors.Is(err, fs.ErrNotExist) {
		return "", clearStages(dir)
	}
	if err != nil {
		return "", err
	}
	var j journal
	if json.Unmarshal(data, &j) != nil || len(j.Moves) == 0 {
		// The crash came while it was written: nothing had been moved.
		return "", errors.Join(os.Remove(filepath.Join(dir, journalFile)), clearStages(dir))
	}
	return j.Log, errors.Join(finish(dir, j, step), clearStages(dir))
}

// Interrupted reports whether Resume has an import to finish.
func Interrupted(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, journalFile))
	return err == nil
}

// clearStages removes the stages of imports that never came to their journal.
func clearStages(dir string) error {
	stages, err := filepath.Glob(filepath.Join(escapeGlob(dir), stagePattern))
	if err != nil {
		return err
	}
	for _, s := range stages {
		if info, e := os.Stat(s); e == nil && info.IsDir() {
			err = errors.Join(err, os.RemoveAll(s))
		}
	}
	return err
}

// escapeGlob quotes a folder's own name for filepath.Glob.
func escapeGlob(dir string) string {
	return strings.NewReplacer(`[`, `[[]`, `*`, `[*]`, `?`, `[?]`).Replace(dir)
}

// finish makes the moves that are not made yet. Every step may have been done before.
func finish(dir string, j journal, step func()) error {
	for _, m := range j.Moves {
		if err := m.do(dir, j.Stage, step); err != nil {
			return fmt.Errorf("the import stopped at %s and nothing is lost: %w; if the file is open in another program, close it, then run keelmark import --flock %s to finish", m.Name, err, dir)
		}
	}
	syncDir(dir)
	step()
	if err := appendLog(dir, j, step); err != nil {
		return err
	}
	step()
	if err := os.Remove(filepath.Join(dir, journalFile)); err != nil {
		return err
	}
	step()
	return os.RemoveAll(filepath.Join(dir, j.Stage))
}

func (m move) do(dir, stage string, step func()) error {
	ctx := context.Background() // moves are finished once begun
	target, staged := filepath.Join(dir, m.Name), filepath.Join(dir, stage, m.Staged)
	there, err := hashFile(ctx, target)
	switch {
	case err == nil && there == m.Hash: // done before the crash, or the keeper copied it meanwhile
		if _, err := os.Stat(filepath.Join(dir, stage, m.Kept)); m.Kept == "" || err != nil {
			return nil
		}
		return m.keep(dir, stage, m.OldHash, step)
	case err == nil:
		if err := m.keep(dir, stage, there, step); err != nil {
			return err
		}
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if got, err := hashFile(ctx, staged); err != nil || got != m.Hash {
		return errors.Join(err, fmt.Errorf("the copy of %s in %s is damaged; import it again from its own place", m.Name, stage))
	}
	step()
	if err := os.Rename(staged, target); err != nil {
		return err
	}
	step()
	return nil
}

// keep puts the file that is about to be replaced into the folder of earlier ones: the staged copy of it, or, if
// it was edited since, a copy of what lies there now.
func (m move) keep(dir, stage, there string, step func()) error {
	ctx := context.Background()
	earlier, kept := filepath.FromSlash(m.Earlier), filepath.Join(dir, stage, m.Kept)
	if m.Kept == "" || there != m.OldHash {
		earlier, kept = earlierName(m.Name, there), filepath.Join(dir, stage, "late-"+there[:12])
	}
	place := filepath.Join(dir, earlier)
	switch got, err := hashFile(ctx, place); {
	case err == nil && got == there:
		return nil
	case err == nil: // something else bears the name
		place = strings.TrimSuffix(place, filepath.Ext(place)) + "." + there + filepath.Ext(place)
	}
	if got, err := hashFile(ctx, kept); err != nil || got != there {
		if err := os.RemoveAll(kept); err != nil {
			return err
		}
		if err := exactCopy(ctx, filepath.Join(dir, m.Name), kept, there, step); err != nil {
			return err
		}
	}
	if err := os.MkdirAll(filepath.Dir(place), 0o755); err != nil {
		return err
	}
	step()
	if err := os.Rename(kept, place); err != nil {
		return err
	}
	syncDir(filepath.Dir(place))
	step()
	return nil
}

// appendLog adds a line to imports.log, whole or not at all, and once only.
func appendLog(dir string, j journal, step func()) error {
	path := filepath.Join(dir, LogFile)
	old, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if len(old) > 0 && !bytes.HasSuffix(old, []byte("\n")) {
		old = append(old, '\n')
	}
	if lines := bytes.Split(old, []byte("\n")); len(lines) > 1 && string(lines[len(lines)-2]) == j.Log {
		return nil
	}
	stage := filepath.Join(dir, j.Stage)
	if err := os.MkdirAll(stage, 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(stage, "log-*")
	if err != nil {
		return err
	}
	step()
	_, err = f.Write(append(old, j.Log+"\n"...))
	step()
	if err == nil {
		err = f.Sync()
	}
	err = errors.Join(err, f.Chmod(0o644), f.Close())
	if err == nil {
		step()
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	step()
	return nil
}

// syncDir has the names of a folder on disk. Some systems cannot; their renames are as safe as they come.
func syncDir(dir string) {
	if f, err := os.Open(dir); err == nil {
		_ = f.Sync()
		_ = f.Close()
	}
}
