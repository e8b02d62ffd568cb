/*
 * Any text as a message pattern: refused at a place inside it, or written within its bounds, the same way each time. Also
 * what was refused must be harmless to write.
 */
#include "fuzz.h"

#include "packs/message_format.h"

static void write_within(const char *language, const char *pattern, const cfoil_argument *arguments, size_t count)
{
    char room[64];
    size_t length = message_format(language, pattern, arguments, count, NULL, 0);
    char *whole = malloc(length + 1);
    if (whole == NULL)
        return;
    demand(message_format(language, pattern, arguments, count, whole, length + 1) == length);
    demand(strlen(whole) == length);
    for (size_t capacity = 1; capacity <= sizeof room; capacity += 21) {
        memset(room, 'x', sizeof room);
        demand(message_format(language, pattern, arguments, count, room, capacity) == length);
        size_t kept = length < capacity ? length : capacity - 1;
        demand(room[kept] == '\0' && memcmp(room, whole, kept) == 0);
        demand(capacity == sizeof room || room[capacity] == 'x');
    }
    free(whole);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const languages[] = {"en", "de", "fr", "it", "es", "hi", "pl", ""};
    static const struct message_name names[] = {{"n", true}, {"w", false}, {"value", false}};
    static const cfoil_argument arguments[] = {{"n", NULL, 1}, {"w", "a", 0}, {"value", "50", 0}};
    if (size == 0 || size > 4096)
        return 0;
    char *pattern = text_copied(data + 1, size - 1);
    const char *language = languages[data[0] % 8];
    struct message_fault fault = {0, NULL};
    uint32_t used = 0;
    if (message_check(language, pattern, names, 3, &used, &fault))
        demand(fault.what == NULL && used < 8);
    else
        demand(fault.what != NULL && fault.offset <= strlen(pattern));
    write_within(language, pattern, arguments, 3);
    write_within(language, pattern, NULL, 0);
    free(pattern);
    return 0;
}
