/*
 * What does ICU make of a message pattern? Its C interface knows no named arguments, hence this small bridge to C++.
 */
#ifndef ICU_MESSAGE_H
#define ICU_MESSAGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

struct icu_value {
    const char *name;
    const char *text; /* NULL = the number */
    int64_t number;
};

/* False = ICU refuses the pattern. */
bool icu_message(const char *language, const char *pattern, const struct icu_value *values, size_t count, char *target,
                 size_t capacity);

/* The plural form that ICU gives to a whole number. */
void icu_plural(const char *language, int64_t number, char *target, size_t capacity);

#ifdef __cplusplus
}
#endif
#endif
