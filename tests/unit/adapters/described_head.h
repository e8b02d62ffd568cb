/*
 * How the descriptions that tests write begin.
 */
#ifndef DESCRIBED_HEAD_H
#define DESCRIBED_HEAD_H

#define HEAD                                                                                                           \
    "{\"schema\": \"counterfoil.device/1\", \"id\": \"talker\", \"version\": \"1\", \"reviewed\": \"2026-01-01\",\n"   \
    "\"name\": \"Talker\", \"source\": \"invented\", \"confidence\": \"practice\",\n"                                  \
    "\"line\": {\"baud\": 9600, \"data_bits\": 8, \"parity\": \"none\", \"stop_bits\": 1},\n"

/* 10 02 | number | code | note | xor | 10 03, with 10 doubled inside. */

#endif
