/*
 * Which words do the bytes of a terminal driver mean? See carrier_parity.h.
 */
#include "transport/carrier_parity.h"

#include <counterfoil/adapter.h>

#define MODE_BIT 0x100u

/* A break and the character 00 with mode bit 1 both come as FF 00 00 (POSIX, PARMRK). Whoever was asked is answering;
 * nobody else sends an ACK. */
static uint16_t marked_word(struct parity_reader *reader, uint8_t byte)
{
    bool asked = reader->asked;
    reader->asked = false; /* mode bit 1 ends an answer */
    return byte == 0 && !asked ? (uint16_t)CFOIL_WORD_BREAK : (uint16_t)(byte | MODE_BIT);
}

bool parity_take(struct parity_reader *reader, uint8_t byte, uint16_t *word)
{
    if (reader->marks == 0 && byte == 0xFF) {
        reader->marks = 1;
        return false;
    }
    if (reader->marks == 1 && byte == 0x00) {
        reader->marks = 2;
        return false;
    }
    /* After a single FF: FF is FF; anything else no driver sends, and the byte counts alone. */
    *word = reader->marks == 2 ? marked_word(reader, byte) : byte;
    reader->marks = 0;
    return true;
}

uint32_t parity_run(const uint16_t *words, uint32_t count)
{
    uint32_t length = 0;
    while (length < count && words[length] != CFOIL_WORD_BREAK && ((words[length] ^ words[0]) & MODE_BIT) == 0)
        length++;
    return length;
}
