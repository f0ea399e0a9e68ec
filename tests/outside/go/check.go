// Command check is a checker that shares no code with Inkfast: it reads the public formats
// (C2SP tlog-proof and tlog-checkpoint) and decides with golang.org/x/mod/sumdb.
//
//	check VKEY LEAFFILE PROOFFILE
//	check consistency VKEY OLDCHECKPOINT NEWCHECKPOINT PROOFFILE
//	check tiles VKEY FOLDER [OLDCHECKPOINT]
//
// A FOLDER is a log in the layout of C2SP tlog-tiles; every record in it is proven, and that it continues
// an older checkpoint.
// In a PROOFFILE of consistency each line is one hash in base64. Exit code 0: it holds; 1: it does not.
//
// Build, with Debian's golang-go and golang-golang-x-mod-dev:
//
//	GO111MODULE=off GOPATH=/usr/share/gocode go build -o check check.go
package main

import (
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

func main() {
	said, err := run(os.Args[1:])
	if err != nil {
		fmt.Println("REFUSED:", err)
		os.Exit(1)
	}
	fmt.Println("OK:", said)
}

func run(args []string) (string, error) {
	switch {
	case len(args) == 5 && args[0] == "consistency":
		return consistency(args[1], args[2], args[3], args[4])
	case (len(args) == 3 || len(args) == 4) && args[0] == "tiles":
		return tiles(args[1], args[2], args[3:])
	case len(args) == 3:
		return inclusion(args[0], args[1], args[2])
	}
	return "", errors.New("usage: check VKEY LEAF PROOF | check consistency VKEY OLD NEW PROOF")
}

func inclusion(vkey, leafFile, proofFile string) (string, error) {
	leaf, err := os.ReadFile(leafFile)
	if err != nil {
		return "", err
	}
	proof, err := os.ReadFile(proofFile)
	if err != nil {
		return "", err
	}
	head, checkpoint, found := strings.Cut(string(proof), "\n\n")
	lines := strings.Split(head, "\n")
	if !found || lines[0] != "c2sp.org/tlog-proof@v1" {
		return "", errors.New("not a tlog-proof of edition v1")
	}
	lines = lines[1:]
	if len(lines) > 0 && strings.HasPrefix(lines[0], "extra ") {
		lines = lines[1:]
	}
	if len(lines) == 0 || !strings.HasPrefix(lines[0], "index ") {
		return "", errors.New("no index line")
	}
	index, err := strconv.ParseInt(strings.TrimPrefix(lines[0], "index "), 10, 64)
	if err != nil {
		return "", err
	}
	hashes, err := parseHashes(lines[1:])
	if err != nil {
		return "", err
	}
	size, root, err := open(vkey, checkpoint)
	if err != nil {
		return "", err
	}
	if err := tlog.CheckRecord(hashes, size, root, index, tlog.RecordHash(leaf)); err != nil {
		return "", err
	}
	return fmt.Sprintf("entry %d is in the tree of %d", index, size), nil
}

func consistency(vkey, oldFile, newFile, proofFile string) (string, error) {
	var texts [3]string
	for i, name := range []string{oldFile, newFile, proofFile} {
		data, err := os.ReadFile(name)
		if err != nil {
			return "", err
		}
		texts[i] = string(data)
	}
	oldSize, oldRoot, err := open(vkey, texts[0])
	if err != nil {
		return "", fmt.Errorf("old checkpoint: %w", err)
	}
	newSize, newRoot, err := open(vkey, texts[1])
	if err != nil {
		return "", fmt.Errorf("new checkpoint: %w", err)
	}
	hashes, err := parseHashes(strings.FieldsFunc(texts[2], func(r rune) bool { return r == '\n' }))
	if err != nil {
		return "", err
	}
	if err := tlog.CheckTree(hashes, newSize, newRoot, oldSize, oldRoot); err != nil {
		return "", err
	}
	return fmt.Sprintf("the tree of %d continues the tree of %d", newSize, oldSize), nil
}

// folder reads tiles of 256 hashes from a folder. What it gives is not trusted: tlog.TileHashReader
// checks every tile against the tree.
type folder string

func (f folder) Height() int { return 8 }

func (f folder) SaveTiles([]tlog.Tile, [][]byte) {}

func (f folder) ReadTiles(tiles []tlog.Tile) ([][]byte, error) {
	all := make([][]byte, len(tiles))
	for i, tile := range tiles {
		// The package puts the height into the path; C2SP tlog-tiles leaves it out, as it is always 8.
		path := strings.Replace(tile.Path(), "tile/8/", "tile/", 1)
		data, err := os.ReadFile(filepath.Join(string(f), path))
		if err != nil {
			return nil, err
		}
		all[i] = data
	}
	return all, nil
}

// records reads the records from 256 times index on: each stands behind its length, two bytes, big-endian.
func (f folder) records(index, size int64) ([][]byte, error) {
	width := min(size-index*256, 256)
	path := strings.Replace(tlog.Tile{H: 8, L: 0, N: index, W: int(width)}.Path(), "tile/8/0/", "tile/entries/", 1)
	data, err := os.ReadFile(filepath.Join(string(f), path))
	if err != nil {
		return nil, err
	}
	var all [][]byte
	for len(data) > 0 {
		if len(data) < 2 || len(data) < 2+int(binary.BigEndian.Uint16(data)) {
			return nil, fmt.Errorf("%s ends within a record", path)
		}
		length := int(binary.BigEndian.Uint16(data))
		all = append(all, data[2:2+length])
		data = data[2+length:]
	}
	if int64(len(all)) != width {
		return nil, fmt.Errorf("%s holds %d records, not %d", path, len(all), width)
	}
	return all, nil
}

func min(a, b int64) int64 {
	if a < b {
		return a
	}
	return b
}

func tiles(vkey, dir string, older []string) (string, error) {
	checkpoint, err := os.ReadFile(filepath.Join(dir, "checkpoint"))
	if err != nil {
		return "", err
	}
	size, root, err := open(vkey, string(checkpoint))
	if err != nil {
		return "", err
	}
	hashes := tlog.TileHashReader(tlog.Tree{N: size, Hash: root}, folder(dir))
	for index := int64(0); index*256 < size; index++ {
		records, err := folder(dir).records(index, size)
		if err != nil {
			return "", err
		}
		for i, record := range records {
			id := index*256 + int64(i)
			proof, err := tlog.ProveRecord(size, id, hashes)
			if err != nil {
				return "", err
			}
			if err := tlog.CheckRecord(proof, size, root, id, tlog.RecordHash(record)); err != nil {
				return "", fmt.Errorf("record %d: %w", id, err)
			}
		}
	}
	said := fmt.Sprintf("%d records are in the tree of %d", size, size)
	for _, name := range older {
		old, err := os.ReadFile(name)
		if err != nil {
			return "", err
		}
		oldSize, oldRoot, err := open(vkey, string(old))
		if err != nil {
			return "", err
		}
		proof, err := tlog.ProveTree(size, oldSize, hashes)
		if err != nil {
			return "", err
		}
		if err := tlog.CheckTree(proof, size, root, oldSize, oldRoot); err != nil {
			return "", err
		}
		said += fmt.Sprintf(", which continues the tree of %d", oldSize)
	}
	return said, nil
}

// open checks the signature of a checkpoint and that its origin is the name of the key.
func open(vkey, checkpoint string) (size int64, root tlog.Hash, err error) {
	verifier, err := note.NewVerifier(vkey)
	if err != nil {
		return 0, root, err
	}
	opened, err := note.Open([]byte(checkpoint), note.VerifierList(verifier))
	if err != nil {
		return 0, root, err
	}
	lines := strings.Split(opened.Text, "\n")
	if len(lines) != 4 || lines[0] != verifier.Name() {
		return 0, root, errors.New("not three lines, or of another log")
	}
	if size, err = strconv.ParseInt(lines[1], 10, 64); err != nil {
		return 0, root, err
	}
	root, err = tlog.ParseHash(lines[2])
	return size, root, err
}

func parseHashes(lines []string) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(lines))
	for i, line := range lines {
		data, err := base64.StdEncoding.Strict().DecodeString(line)
		if err != nil || len(data) != tlog.HashSize {
			return nil, fmt.Errorf("hash %d is not 32 bytes in base64", i)
		}
		copy(hashes[i][:], data)
	}
	return hashes, nil
}
