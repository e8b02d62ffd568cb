# Writes OUTPUT, a C file with the bytes of FILES, for the packs that are compiled in.
set(arrays "")
set(table "")
set(index 0)
foreach(file IN LISTS FILES)
  get_filename_component(name "${file}" NAME)
  file(READ "${file}" hex HEX)
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${hex}")
  string(REGEX REPLACE "(................................................................................)" "\\1\n" bytes "${bytes}")
  string(APPEND arrays "static const unsigned char pack_${index}[] = {\n${bytes}0};\n")
  string(APPEND table "    {\"${name}\", (const char *)pack_${index}, sizeof pack_${index} - 1},\n")
  math(EXPR index "${index} + 1")
endforeach()
file(WRITE "${OUTPUT}" "/* Made by packs/embed.cmake; do not edit. */\n#include \"packs/builtin.h\"\n\n${arrays}\n"
  "const struct builtin_pack builtin_packs[] = {\n${table}};\n"
  "const size_t builtin_pack_count = ${index};\n")
