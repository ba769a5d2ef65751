"""Reads data that R has saved, without R: .rda files and lazy-load databases.

The format is that of "R Internals", section Serialization Formats: version 2
or 3, XDR. Vectors come as numpy arrays (NA of whole numbers stays -2**31),
text as lists, lists as Named; attributes are kept. Functions, languages and
byte code are refused: none of it is data.
"""
import bz2
import gzip
import lzma
import struct
import zlib

import numpy as np

REFERENCE, NIL = 255, 254
ENVIRONMENTS = {253, 250, 242, 241}  # global, base namespace, empty, base


class Named(list):
    """A list of R, whose elements may be had by name."""

    def __init__(self, values, names=()):
        super().__init__(values)
        self.names = list(names)
        self.attributes = {}

    def __getitem__(self, key):
        return super().__getitem__(self.names.index(key) if isinstance(key, str) else key)


class Vector(np.ndarray):
    """A vector of R: an array in R's order, with its attributes."""

    attributes = {}


class Text(list):
    """A vector of texts of R; None is NA."""

    attributes = {}


class Reader:
    """Reads one serialised value from bytes."""

    def __init__(self, data, base_reader=None):
        if data[:2] != b"X\n":
            raise ValueError("not R's XDR serialisation")
        self.data, self.at, self.seen, self.outside = data, 2, [], base_reader
        version = self.whole()
        self.at += 8  # the R versions that wrote it and that can read it
        if version == 3:
            self.take(self.whole())  # the native encoding
        elif version != 2:
            raise ValueError(f"serialisation version {version}")

    def take(self, n):
        self.at += n
        return self.data[self.at - n : self.at]

    def whole(self):
        return struct.unpack(">i", self.take(4))[0]

    def array(self, form):
        n = self.whole()
        if n < 0:
            raise ValueError("a vector of over 2**31 elements")
        a = np.frombuffer(self.take(n * np.dtype(form).itemsize), form)
        return a.astype(a.dtype.newbyteorder("=")).view(Vector)

    def remember(self, value):
        self.seen.append(value)
        return value

    def value(self):
        flags = self.whole()
        kind, has_attributes, has_tag = flags & 255, flags & 512, flags & 1024
        if kind == REFERENCE:
            return self.seen[(flags >> 8 or self.whole()) - 1]
        if kind == NIL or kind in ENVIRONMENTS:
            return None
        if kind == 1:
            return self.remember(self.value())
        if kind == 4:
            return self.environment()
        if kind in (247, 249):
            return self.named_elsewhere(kind)
        if kind == 2:
            return self.pairs(has_attributes, has_tag)
        if kind == 9:
            n = self.whole()
            return None if n < 0 else self.take(n).decode("latin-1" if flags & (4 << 12) else "utf-8")
        return self.vector(kind, has_attributes)

    def vector(self, kind, has_attributes):
        if kind in (10, 13):
            out = self.array(">i4")
        elif kind == 14:
            out = self.array(">f8")
        elif kind == 16:
            out = Text(self.value() for _ in range(self.whole()))
        elif kind == 19:
            out = Named([self.value() for _ in range(self.whole())])
        elif kind == 25:
            out = Named([])
        else:
            raise ValueError(f"R's type {kind} at byte {self.at} is no data")
        if has_attributes:
            out.attributes = self.value()
            if isinstance(out, Named):
                out.names = out.attributes.get("names", [])
        return out

    def pairs(self, has_attributes, has_tag):
        out = {}
        while True:
            if has_attributes:
                self.value()
            tag = self.value() if has_tag else len(out)
            out[tag] = self.value()
            flags = self.whole()
            if flags & 255 == NIL:
                return out
            has_attributes, has_tag = flags & 512, flags & 1024

    def environment(self):
        self.whole()  # locked or not
        self.remember(None)
        for _ in range(4):  # enclosure, frame, hash table, attributes
            self.value()

    def named_elsewhere(self, kind):
        self.whole()
        names = [self.value() for _ in range(self.whole())]
        here = len(self.seen)
        self.remember(None)
        if kind == 247 and self.outside:
            self.seen[here] = self.outside(names[0])
        return self.seen[here]


def unpacked(data):
    """Undoes the compression that the first bytes tell of."""
    for magic, how in ((b"\x1f\x8b", gzip), (b"BZh", bz2), (b"\xfd7zXZ", lzma)):
        if data.startswith(magic):
            return how.decompress(data)
    return zlib.decompress(data) if data[:1] == b"\x78" else data


def load(path):
    """Reads the objects of an .rda file, by name."""
    with open(path, "rb") as f:
        data = unpacked(f.read())
    if data[:5] not in (b"RDX2\n", b"RDX3\n"):
        raise ValueError(f"{path}: no .rda file")
    return Reader(data[5:]).value()


class Database:
    """A lazy-load database: NAME.rdx and NAME.rdb."""

    def __init__(self, name):
        with open(name + ".rdx", "rb") as f:
            index = Reader(unpacked(f.read())).value()
        with open(name + ".rdb", "rb") as f:
            self.bytes = f.read()
        self.variables, self.references = index["variables"], index["references"]

    def at(self, place):
        start, length = (int(v) for v in place)
        body = self.bytes[start + 4 : start + length]  # 4 bytes: length once unpacked
        if body[:1] == b"Z":
            body = lzma.decompress(body[1:], lzma.FORMAT_AUTO) if body[1:2] == b"\xfd" else raw_lzma(body[1:])
        elif body[:1] == b"2":
            body = bz2.decompress(body[1:])
        else:
            body = zlib.decompress(body)
        return Reader(body, lambda name: self.at(self.references[name])).value()

    def __getitem__(self, name):
        return self.at(self.variables[name])


def raw_lzma(data):
    """Unpacks LZMA2 without a header, as R's databases keep it."""
    filters = [{"id": lzma.FILTER_LZMA2, "preset": 6}]
    return lzma.LZMADecompressor(lzma.FORMAT_RAW, filters=filters).decompress(data)
