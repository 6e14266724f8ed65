package intake

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// Prepare looks at the files and at the folder, reads the flock as it is and as it would become, and changes
// nothing. The folder need not exist. Close the plan after use. The error names a file that is not there, a folder
// that is none, or what is wrong in its settings.
func Prepare(ctx context.Context, dir string, files []string, o Options) (*Plan, error) {
	if err := folder(dir); err != nil {
		return nil, err
	}
	aside, err := os.MkdirTemp("", "keelmark-import-")
	if err != nil {
		return nil, err
	}
	p := &Plan{Dir: dir, aside: aside}
	if err := p.prepare(ctx, files, o); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	return p, nil
}

// folder refuses a path that is there and is no folder.
func folder(dir string) error {
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return fmt.Errorf("%s is a file; give the folder of the flock", dir)
	}
	return nil
}

func (p *Plan) prepare(ctx context.Context, files []string, o Options) error {
	o.Load.KeepTexts = true
	var err error
	there, err := hashes(ctx, p.Dir)
	if err != nil {
		return err
	}
	p.there = there
	if p.Before, err = load(ctx, p.Dir, o.Load); err != nil {
		return err
	}
	earlier, err := hashes(ctx, filepath.Join(p.Dir, EarlierFolder))
	if err != nil {
		return err
	}
	for _, path := range files {
		item, err := p.item(ctx, path, there, earlier, o.Anyway)
		if err != nil {
			return err
		}
		p.Items = append(p.Items, item)
	}
	if err := p.readAfter(ctx, o); err != nil {
		return err
	}
	if !o.Anyway && p.copies() {
		if err := p.readAfter(ctx, o); err != nil {
			return err
		}
	}
	carried, err := p.carry()
	if err != nil {
		return err
	}
	if carried {
		if err := p.readAfter(ctx, o); err != nil {
			return err
		}
	}
	for i := range p.Items {
		if it := &p.Items[i]; it.Action == Replace {
			it.Diffs = diffFile(it.Name, p.Before, p.After)
		}
	}
	return nil
}

// load reads the flock of a folder, nil where there is none.
func load(ctx context.Context, dir string, o ingest.Options) ([]*record.Dataset, error) {
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	flocks, err := ingest.Load(ctx, []string{dir}, o)
	if errors.Is(err, ingest.ErrNoSheets) {
		return nil, nil
	}
	return flocks, err
}

// hashes are the files of a folder by name, hidden ones left out.
func hashes(ctx context.Context, dir string) (map[string]string, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, e := range entries {
		if info, err := os.Stat(filepath.Join(dir, e.Name())); err != nil || !info.Mode().IsRegular() || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		if out[e.Name()], err = hashFile(ctx, filepath.Join(dir, e.Name())); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// item decides what is to be done with one file, before it is read as a sheet.
func (p *Plan) item(ctx context.Context, path string, there, earlier map[string]string, anyway bool) (Item, error) {
	it := Item{Source: path, Name: filepath.Base(path), Action: Add}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return it, fmt.Errorf("%s: there is no such file; check the spelling", path)
	case err != nil:
		return it, err
	case info.IsDir():
		return it, fmt.Errorf("%s is a folder; name the files in it that are to be imported", path)
	case isReserved(it.Name):
		it.Action, it.Reason = Skip, it.Name+" is a name that the flock's folder keeps for something else; rename the file if it is a sheet"
		return it, nil
	}
	if it.Hash, err = copyTo(ctx, path, filepath.Join(p.aside, "given", fmt.Sprint(len(p.Items))), nil); err != nil {
		return it, err
	}
	for _, other := range p.Items {
		switch {
		case other.Hash == it.Hash && other.Copied():
			it.Action, it.Reason = Same, "it has the same content as "+other.Source
			return it, nil
		case strings.EqualFold(other.Name, it.Name) && other.Copied():
			return it, fmt.Errorf("%s and %s have one name and different content; rename one of them, or import them one after the other, the newer last", other.Source, path)
		}
	}
	for _, name := range sortedKeys(there) {
		if there[name] == it.Hash {
			it.Action, it.Reason = Same, "the flock's folder holds the same content as "+name
			return it, nil
		}
	}
	for _, name := range sortedKeys(earlier) {
		if earlier[name] == it.Hash && !anyway {
			it.Action, it.Reason = Skip, fmt.Sprintf("it is an older file that was replaced before (%s); import it with --anyway if you want to go back to it", filepath.Join(EarlierFolder, name))
			return it, nil
		}
	}
	for _, name := range sortedKeys(there) {
		if !strings.EqualFold(name, it.Name) {
			continue
		}
		it.Name, it.Action, it.OldHash = name, Replace, there[name]
		it.Earlier = earlierName(name, it.OldHash)
	}
	return it, nil
}

// earlierName is where a replaced file is kept: its own name with the beginning of its hash.
func earlierName(name, hash string) string {
	ext := filepath.Ext(name)
	return filepath.Join(EarlierFolder, strings.TrimSuffix(name, ext)+"."+hash[:12]+ext)
}

// readAfter reads the flock as it would become. Files that cannot be read are taken out of the plan, unless they
// are to be copied anyway.
func (p *Plan) readAfter(ctx context.Context, o Options) error {
	for {
		dir, err := p.shadow(ctx)
		if err != nil {
			return err
		}
		if p.After, err = load(ctx, dir, o.Load); err != nil {
			return err
		}
		read := map[string]record.File{}
		for _, d := range p.After {
			for _, f := range d.Files {
				read[f.Name] = f
			}
		}
		again := false
		for i := range p.Items {
			it := &p.Items[i]
			if !it.Copied() {
				continue
			}
			switch f, ok := read[it.Name]; {
			case !ok:
				it.Reason = it.Name + " is not looked at in a flock's folder; save it as .xlsx, .ods or .csv"
			case f.Outcome == record.Refused:
				it.Reason = f.Reason
			default:
				continue
			}
			if !o.Anyway {
				it.Action, again = Skip, true
			}
		}
		if !again {
			return nil
		}
	}
}

// shadow makes a folder of the flock's name that holds what the flock's folder would hold.
func (p *Plan) shadow(ctx context.Context) (string, error) {
	abs, err := filepath.Abs(p.Dir)
	if err != nil {
		return "", err
	}
	dir := filepath.Join(p.aside, "after", filepath.Base(abs))
	if err := os.RemoveAll(dir); err != nil {
		return "", err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	replaced := map[string]bool{}
	for i, it := range p.Items {
		if !it.Copied() {
			continue
		}
		replaced[it.Name] = true
		if _, err := copyTo(ctx, filepath.Join(p.aside, "given", fmt.Sprint(i)), filepath.Join(dir, it.Name), nil); err != nil {
			return "", err
		}
	}
	for _, s := range p.sides {
		replaced[s.name] = true
		if _, err := copyTo(ctx, s.staged, filepath.Join(dir, s.name), nil); err != nil {
			return "", err
		}
	}
	names := []string{settingsFile, answersFile}
	if len(p.Before) > 0 {
		for _, f := range p.Before[0].Files {
			names = append(names, f.Name)
		}
	}
	table, err := p.standardTable()
	if err != nil {
		return "", err
	}
	for _, name := range append(names, table) {
		if name == "" || replaced[name] {
			continue
		}
		replaced[name] = true
		from := filepath.Join(abs, name)
		if _, err := os.Stat(from); errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755); err != nil {
			return "", err
		}
		if os.Symlink(from, filepath.Join(dir, name)) == nil {
			continue
		}
		if _, err := copyTo(ctx, from, filepath.Join(dir, name), nil); err != nil {
			return "", err
		}
	}
	return dir, nil
}

// standardTable is the file of the keeper's own standard weights, which is read beside the sheets; "" where there is none.
func (p *Plan) standardTable() (string, error) {
	data, err := readAny(filepath.Join(p.Dir, settingsFile))
	if err != nil || data == nil {
		return "", err
	}
	s, err := settings.Read(settingsFile, data, nil)
	if err != nil || !filepath.IsLocal(filepath.FromSlash(s.Flock.StandardTable)) {
		return "", err // an outside path is refused where the table is read
	}
	return filepath.Clean(filepath.FromSlash(s.Flock.StandardTable)), nil
}

func sortedKeys(m map[string]string) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
