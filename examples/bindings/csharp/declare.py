#!/usr/bin/env python3
"""C# declarations of the public interface, made from the header.

declare.py HEADER          prints them
declare.py HEADER FILE     exit code 1 when FILE is something else

Handles and structs are IntPtr, texts that go in are UTF-8 strings, buffers are byte arrays. Structs without arrays are declared; of
the others (events, steps, records) read the JSON, as examples/bindings/README.md says.
"""
import re
import sys

NUMBERS = {"int32_t": "int", "uint32_t": "uint", "int64_t": "long", "uint64_t": "ulong", "size_t": "UIntPtr",
           "intptr_t": "IntPtr", "uint8_t": "byte", "void": "void", "double": "double"}


KEYWORDS = {"event", "case", "in", "out", "ref", "object", "string", "base", "lock", "checked", "fixed", "params"}


def plain(text):
    """The header without comments, and without what only other compilers see."""
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.S)
    return re.sub(r"^\s*#.*?(?<!\\)$", "", text, flags=re.M | re.S)


def parameter(words):
    """One parameter of C as one of C#."""
    name = re.search(r"(\w+)$", words).group(1)
    kind = words[:-len(name)].strip()
    name = f"@{name}" if name in KEYWORDS else name
    if "(" in words:
        raise SystemExit(f"not understood: {words}")
    base = re.sub(r"\bconst\b|\*", "", kind).strip()
    stars = kind.count("*")
    if stars == 0:
        return f"{NUMBERS[base]} {name}"
    if stars == 1 and base == "char":
        return (f"[MarshalAs(UnmanagedType.LPUTF8Str)] string {name}" if "const" in kind else f"byte[] {name}")
    if stars == 1 and base in NUMBERS and base != "void" and "const" not in kind:
        return f"out {NUMBERS[base]} {name}"
    if stars == 2 and "const" not in kind:
        return f"out IntPtr {name}"
    return f"IntPtr {name}"


def functions(text):
    for kind, name, rest in re.findall(r"CFOIL_API\s+([\w\s]+?\*?)\s*(cfoil_\w+)\(([^;]*?)\);", text, flags=re.S):
        kind = kind.strip()
        answer = "IntPtr" if "*" in kind else NUMBERS[kind]
        words = [] if rest.strip() == "void" else [parameter(" ".join(part.split())) for part in rest.split(",")]
        yield answer, name, words


def row(member):
    """Type and name of a member; None for what a struct of C# cannot hold as it stands."""
    found = re.fullmatch(r"((?:const )?\w+ ?\*?) ?(\w+)", member)
    if found is None:
        return None
    kind, name = found.groups()
    if "*" in kind:
        return "IntPtr", name
    return (NUMBERS[kind.strip()], name) if kind.strip() in NUMBERS else None


def structs(text):
    for body, name in re.findall(r"typedef struct \w+ \{(.*?)\} (cfoil_\w+);", text, flags=re.S):
        rows = [row(" ".join(part.split())) for part in body.split(";") if part.strip()]
        if None not in rows:
            yield name, rows


def constants(text):
    for body in re.findall(r"enum(?: \w+)? \{(.*?)\}", text, flags=re.S):
        yield from re.findall(r"(CFOIL_\w+)\s*=\s*(0x[0-9A-Fa-f]+|\d+)", body)


def made(header):
    text = plain(header)
    lines = ["// Made from counterfoil.h by declare.py; do not edit. Declarations only: never compiled or run by its authors.",
             "using System;", "using System.Runtime.InteropServices;", "", "public static class Counterfoil", "{",
             "    private const string Library = \"counterfoil\";", ""]
    lines += [f"    public const int {name} = {value};" for name, value in constants(text)]
    for name, rows in structs(text):
        lines += ["", "    [StructLayout(LayoutKind.Sequential)]", f"    public struct {name}", "    {"]
        lines += [f"        public {kind} {member};" for kind, member in rows]
        lines += ["    }"]
    for answer, name, words in functions(text):
        lines += ["", "    [DllImport(Library, CallingConvention = CallingConvention.Cdecl)]",
                  f"    public static extern {answer} {name}({', '.join(words)});"]
    return "\n".join(lines + ["}", ""])


def main(arguments):
    if len(arguments) not in (1, 2):
        raise SystemExit(__doc__)
    with open(arguments[0], encoding="utf-8") as file:
        header = file.read()
    text = made(header)
    declared = set(re.findall(r"extern \S+ (cfoil_\w+)\(", text))
    exported = set(re.findall(r"^CFOIL_API[^;]*?\b(cfoil_\w+)\(", header, flags=re.M | re.S))
    if declared != exported:
        raise SystemExit(f"not declared: {sorted(exported ^ declared)}")
    if len(arguments) == 1:
        print(text, end="")
        return 0
    with open(arguments[1], encoding="utf-8") as file:
        if file.read() == text:
            return 0
    print(f"{arguments[1]} is not what {arguments[0]} says: run declare.py HEADER > {arguments[1]}")
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
