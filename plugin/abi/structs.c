/*
 * The `struct_size` rule of counterfoil.h. See structs.h.
 */
#include "abi/structs.h"

#include <counterfoil/counterfoil.h>
#include <string.h>

/* Larger than any struct we shall ever have: a size above it is a struct that was not set up. */
#define STRUCT_SIZE_MAX 65536u

int32_t struct_check(const void *given, size_t minimum)
{
    if (given == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    uint32_t size;
    memcpy(&size, given, sizeof size);
    return size < minimum || size > STRUCT_SIZE_MAX ? CFOIL_E_ARGUMENT_STRUCT_SIZE : CFOIL_OK;
}

int32_t struct_read(const void *given, size_t minimum, size_t known, void *copy)
{
    int32_t result = struct_check(given, minimum);
    if (result != CFOIL_OK)
        return result;
    uint32_t size;
    memcpy(&size, given, sizeof size);
    const unsigned char *bytes = given;
    for (size_t i = known; i < size; i++) {
        if (bytes[i] != 0)
            return CFOIL_E_ARGUMENT_STRUCT_SIZE;
    }
    memset(copy, 0, known);
    memcpy(copy, given, size < known ? size : known);
    return CFOIL_OK;
}

void struct_write(void *given, const void *filled, size_t known)
{
    uint32_t size;
    memcpy(&size, given, sizeof size);
    unsigned char *bytes = given;
    size_t shared = size < known ? size : known;
    memcpy(bytes + sizeof size, (const unsigned char *)filled + sizeof size, shared - sizeof size);
    if (size > known)
        memset(bytes + known, 0, size - known);
}
