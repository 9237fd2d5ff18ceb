// Audits the notes and the tree of a book with the Go authors' own packages, unchanged: sumdb/note
// for keys and signatures, sumdb/tlog for the tree, as Debian ships them
// (golang-golang-x-mod-dev). Usage: audit BUNDLE KEYFILE [OLD_CHECKPOINT]...
//
// Every checkpoint must be signed by the key, every tile must fit the newest root, every entry the
// tiles, and every other checkpoint, older ones brought along included, must be a beginning of the
// newest by a consistency proof. What entries say is not read here. Status 1 and a line
// "REFUSED word: ..." at the first thing that does not agree.
package main

import (
	"archive/tar"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

const height = 8

func refuse(word, format string, values ...interface{}) {
	fmt.Printf("REFUSED %s: %s\n", word, fmt.Sprintf(format, values...))
	os.Exit(1)
}

func must(err error, word string) {
	if err != nil {
		refuse(word, "%v", err)
	}
}

// bundle holds the files of the tar by name.
type bundle map[string][]byte

func readBundle(path string) bundle {
	file, err := os.Open(path)
	must(err, "bundle")
	defer file.Close()
	files := bundle{}
	reader := tar.NewReader(file)
	for {
		header, err := reader.Next()
		if err == io.EOF {
			return files
		}
		must(err, "bundle")
		content, err := io.ReadAll(reader)
		must(err, "bundle")
		if _, twice := files[header.Name]; twice {
			refuse("bundle", "%s is there twice", header.Name)
		}
		files[header.Name] = content
	}
}

// The package writes "tile/8/0/x001/234"; the C2SP layout leaves the height out, and says "entries"
// where the package says "data".
func path(tile tlog.Tile) string {
	name := strings.TrimPrefix(tile.Path(), fmt.Sprintf("tile/%d/", height))
	return "tile/" + strings.Replace(name, "data/", "entries/", 1)
}

func (b bundle) Height() int { return height }

func (b bundle) SaveTiles([]tlog.Tile, [][]byte) {}

func (b bundle) ReadTiles(tiles []tlog.Tile) ([][]byte, error) {
	var contents [][]byte
	for _, tile := range tiles {
		content, there := b[path(tile)]
		if !there {
			return nil, fmt.Errorf("%s is missing", path(tile))
		}
		contents = append(contents, content)
	}
	return contents, nil
}

func openCheckpoint(message []byte, verifier note.Verifier) tlog.Tree {
	opened, err := note.Open(message, note.VerifierList(verifier))
	must(err, "signature")
	lines := strings.Split(opened.Text, "\n")
	if len(lines) < 4 || lines[0] != verifier.Name() {
		refuse("checkpoint", "not of the book %s", verifier.Name())
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	must(err, "checkpoint")
	root, err := tlog.ParseHash(lines[2])
	must(err, "checkpoint")
	return tlog.Tree{N: size, Hash: root}
}

func readVerifier(path string) note.Verifier {
	text, err := os.ReadFile(path)
	must(err, "key")
	key := strings.TrimSpace(string(text))
	if strings.HasPrefix(key, "PRIVATE+KEY+") {
		refuse("key", "give the verification key here, not the private one")
	}
	verifier, err := note.NewVerifier(key)
	must(err, "key")
	return verifier
}

// checkEntries compares every entry with the tiles that fit the root.
func checkEntries(files bundle, tree tlog.Tree, hashes tlog.HashReader) int64 {
	var number int64
	for first := int64(0); first < tree.N; first += 1 << height {
		width := tree.N - first
		if width > 1<<height {
			width = 1 << height
		}
		tile := tlog.Tile{H: height, L: -1, N: first >> height, W: int(width)}
		content, there := files[path(tile)]
		if !there {
			refuse("size", "%s is missing", path(tile))
		}
		for ; len(content) > 0; number++ {
			if len(content) < 2 || len(content) < 2+int(binary.BigEndian.Uint16(content)) {
				refuse("bundle", "%s ends inside an entry", path(tile))
			}
			end := 2 + int(binary.BigEndian.Uint16(content))
			kept, err := hashes.ReadHashes([]int64{tlog.StoredHashIndex(0, number)})
			must(err, "tile")
			if kept[0] != tlog.RecordHash(content[2:end]) {
				refuse("leaf-hash", "no. %d has not the hash in its tile", number)
			}
			content = content[end:]
		}
	}
	if number != tree.N {
		refuse("size", "%d entries, signed are %d", number, tree.N)
	}
	return number
}

// checkBeginning proves that the older tree is a beginning of the newest.
func checkBeginning(name, word string, older, newest tlog.Tree, hashes tlog.HashReader) {
	if older.N > newest.N {
		refuse(word, "%s covers %d entries, the book has %d", name, older.N, newest.N)
	}
	proof, err := tlog.ProveTree(newest.N, older.N, hashes)
	must(err, "tile")
	if tlog.CheckTree(proof, newest.N, newest.Hash, older.N, older.Hash) != nil {
		refuse(word, "%s was signed over another history", name)
	}
}

func main() {
	if len(os.Args) < 3 {
		fmt.Fprintln(os.Stderr, "usage: audit BUNDLE KEYFILE [OLD_CHECKPOINT]...")
		os.Exit(2)
	}
	files, verifier := readBundle(os.Args[1]), readVerifier(os.Args[2])
	newest := openCheckpoint(files["checkpoint"], verifier)
	hashes := tlog.TileHashReader(newest, files)
	checkpoints := 0
	for name, content := range files {
		if strings.HasPrefix(name, "checkpoints/") {
			checkBeginning(name, "root", openCheckpoint(content, verifier), newest, hashes)
			checkpoints++
		}
	}
	for _, path := range os.Args[3:] {
		content, err := os.ReadFile(path)
		must(err, "old-checkpoint")
		old := openCheckpoint(content, verifier)
		checkBeginning(path, "old-checkpoint", old, newest, hashes)
	}
	entries := checkEntries(files, newest, hashes)
	fmt.Printf("ACCEPTED %d entries, %d checkpoints\n", entries, checkpoints)
}
