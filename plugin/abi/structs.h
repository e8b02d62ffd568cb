/*
 * The `struct_size` rule of counterfoil.h: structs of an older or a newer host are read and written safely.
 */
#ifndef ABI_STRUCTS_H
#define ABI_STRUCTS_H

#include <stddef.h>
#include <stdint.h>

/* Copies the host's struct into `copy` (`known` bytes, what this library knows). `minimum` is the size of the first
 * version of the struct. CFOIL_OK, CFOIL_E_ARGUMENT_NULL or CFOIL_E_ARGUMENT_STRUCT_SIZE. */
int32_t struct_read(const void *given, size_t minimum, size_t known, void *copy);

/* Is the host's struct one that struct_write() can fill? */
int32_t struct_check(const void *given, size_t minimum);

/* Copies what was filled to the host's struct, as much as it holds; its struct_size stays, a tail we do not know
 * becomes zero. */
void struct_write(void *given, const void *filled, size_t known);

#endif
