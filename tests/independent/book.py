"""Reads a bundle, its signed notes and its tree, from the published rules alone.

Nothing here comes from the program that wrote the bundle: the rules are c2sp.org/signed-note,
c2sp.org/tlog-checkpoint, c2sp.org/tlog-tiles and RFC 6962 section 2.1. Signatures are checked by the
PyPI package `cryptography`, hashes by Python's own hashlib.
"""

import base64
import hashlib
import re
import tarfile

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

FULL = 256
ED25519 = b"\x01"


class Broken(Exception):
    """The first thing that does not agree: a word for it, and a sentence."""

    def __init__(self, word, sentence):
        super().__init__(f"{word}: {sentence}")
        self.word = word


def demand(truth, word, sentence):
    if not truth:
        raise Broken(word, sentence)


def unbase64(text):
    return base64.b64decode(text, validate=True)


# ---- tree ----------------------------------------------------------------------------------------


def leaf_hash(leaf):
    return hashlib.sha256(b"\x00" + leaf).digest()


def node_hash(left, right):
    return hashlib.sha256(b"\x01" + left + right).digest()


class Tree:
    """Grows leaf by leaf; keeps the hashes of every level that tiles are made of."""

    def __init__(self):
        self.size = 0
        self.peaks = []  # (number of leaves, hash), largest first
        self.tile_levels = []  # level 0: leaf hashes, level 1: roots of 256 of them, ...

    def add(self, hash_):
        self.size += 1
        self._keep(0, hash_)
        count = 1
        while self.peaks and self.peaks[-1][0] == count:
            hash_ = node_hash(self.peaks.pop()[1], hash_)
            count *= 2
        self.peaks.append((count, hash_))

    def _keep(self, level, hash_):
        if len(self.tile_levels) == level:
            self.tile_levels.append([])
        hashes = self.tile_levels[level]
        hashes.append(hash_)
        if len(hashes) % FULL == 0:
            self._keep(level + 1, perfect_root(hashes[-FULL:]))

    def root(self):
        if not self.peaks:
            return hashlib.sha256(b"").digest()
        root = self.peaks[-1][1]
        for _, left in reversed(self.peaks[:-1]):
            root = node_hash(left, root)
        return root

    def tiles(self):
        """Every tile of the tree: path and bytes."""
        for level, hashes in enumerate(self.tile_levels):
            for start in range(0, len(hashes), FULL):
                tile = hashes[start : start + FULL]
                yield tile_path(str(level), start // FULL, len(tile)), b"".join(tile)


def perfect_root(hashes):
    while len(hashes) > 1:
        hashes = [node_hash(hashes[i], hashes[i + 1]) for i in range(0, len(hashes), 2)]
    return hashes[0]


def grouped(number):
    groups = f"{number:03}" if number < 1000 else f"{number % 1000:03}"
    while number >= 1000:
        number //= 1000
        groups = f"x{number % 1000:03}/{groups}"
    return groups


def tile_path(level, index, width):
    partial = "" if width == FULL else f".p/{width}"
    return f"tile/{level}/{grouped(index)}{partial}"


# ---- notes ---------------------------------------------------------------------------------------


class Key:
    """A verification key, `name+id+base64`, or a private one, `PRIVATE+KEY+name+id+base64`."""

    def __init__(self, text):
        text = text.strip()
        self.private = None
        secret = text.startswith("PRIVATE+KEY+")
        self.name, id_, data = text.removeprefix("PRIVATE+KEY+").split("+", 2)
        data = unbase64(data)
        demand(data[:1] == ED25519 and len(data) == 33, "key", "no Ed25519 key")
        if secret:
            self.private = Ed25519PrivateKey.from_private_bytes(data[1:])
            self.public = self.private.public_key()
        else:
            self.public = Ed25519PublicKey.from_public_bytes(data[1:])
        raw = self.public.public_bytes_raw()
        self.id = hashlib.sha256(self.name.encode() + b"\n" + ED25519 + raw).digest()[:4]
        demand(self.id.hex() == id_, "key", "the key does not match its id")
        self.vkey = f"{self.name}+{id_}+{base64.b64encode(ED25519 + raw).decode()}"

    def sign(self, text):
        signature = base64.b64encode(self.id + self.private.sign(text.encode())).decode()
        return f"{text}\n\u2014 {self.name} {signature}\n"


def open_note(note, key):
    """The text of a note that this key has signed."""
    demand(not re.search(r"[\x00-\x09\x0b-\x1f]", note), "note", "a control character in a note")
    text, separator, lines = note.rpartition("\n\n")
    demand(separator and lines.endswith("\n"), "note", "no signed note")
    text += "\n"
    signed = False
    for line in lines[:-1].split("\n"):
        match = re.fullmatch(r"\u2014 ([^\s+]+) (\S+)", line)
        demand(match, "note", f"no signature line: {line!r}")
        name, signature = match[1], unbase64(match[2])
        if name == key.name and signature[:4] == key.id:
            try:
                key.public.verify(signature[4:], text.encode())
            except InvalidSignature:
                raise Broken("signature", f"the signature of {key.vkey} does not fit") from None
            signed = True
    demand(signed, "signature", f"not signed by {key.vkey}")
    return text


def read_checkpoint(note, key):
    """Size and root of a checkpoint that this key has signed."""
    lines = open_note(note, key).split("\n")
    demand(len(lines) >= 4 and lines[0] == key.name, "checkpoint", f"not of the book {key.name}")
    demand(re.fullmatch("0|[1-9][0-9]*", lines[1]), "checkpoint", f"no size: {lines[1]}")
    return int(lines[1]), unbase64(lines[2])


def checkpoint_text(origin, size, root):
    return f"{origin}\n{size}\n{base64.b64encode(root).decode()}\n"


# ---- the file ------------------------------------------------------------------------------------


def read_members(path):
    """All files of a bundle, by name."""
    members = {}
    with tarfile.open(path, "r:") as tar:
        for member in tar:
            demand(member.isreg(), "bundle", f"{member.name} is no plain file")
            demand(member.name not in members, "bundle", f"{member.name} is there twice")
            members[member.name] = tar.extractfile(member).read()
    return members


def write_members(path, members):
    """The other way round, for bundles that were tampered with."""
    import io

    with tarfile.open(path, "w:", format=tarfile.USTAR_FORMAT) as tar:
        for name, content in members.items():
            info = tarfile.TarInfo(name)
            info.size = len(content)
            tar.addfile(info, io.BytesIO(content))


def read_entries(members):
    """The leaf bytes of every entry, in order."""
    bundles = {}
    for name, content in members.items():
        match = re.fullmatch(r"tile/entries/((?:x\d{3}/)*\d{3})(?:\.p/([1-9]\d{0,2}))?", name)
        if match:
            index = int(match[1].replace("x", "").replace("/", ""))
            width = int(match[2] or FULL)
            demand(index not in bundles, "bundle", f"the entries of {name} are there twice")
            bundles[index] = (name, width, content)
    entries = []
    for index in range(len(bundles)):
        demand(index in bundles, "bundle", f"entry file {grouped(index)} is missing")
        name, width, content = bundles[index]
        demand(width == FULL or index == len(bundles) - 1, "bundle", f"{name} is not full")
        at, found = 0, 0
        while at < len(content):
            end = at + 2 + int.from_bytes(content[at : at + 2], "big")
            demand(end <= len(content), "bundle", f"{name} ends inside an entry")
            entries.append(content[at + 2 : end])
            at, found = end, found + 1
        demand(found == width, "bundle", f"{name} holds {found} entries")
    return entries


def entry_files(entries):
    """Names and contents of the files that hold these entries."""
    files = {}
    for start in range(0, len(entries), FULL):
        part = entries[start : start + FULL]
        content = b"".join(len(leaf).to_bytes(2, "big") + leaf for leaf in part)
        files[tile_path("entries", start // FULL, len(part))] = content
    return files
