/*
 * Random numbers that are the same on every machine.
 */
#ifndef CHANCE_H
#define CHANCE_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

struct chance {
    uint64_t state;
    double spare; /* normal draws come in pairs */
    bool has_spare;
};

/* SplitMix64: "Fast splittable pseudorandom number generators" (2014), constants from memory; any good generator would do. */
static inline uint64_t chance_next(struct chance *chance)
{
    uint64_t z = chance->state += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* 0 < u < 1 */
static inline double chance_uniform(struct chance *chance)
{
    return ((double)(chance_next(chance) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double chance_normal(struct chance *chance)
{
    if (chance->has_spare) {
        chance->has_spare = false;
        return chance->spare;
    }
    double radius = sqrt(-2 * log(chance_uniform(chance)));
    double angle = 6.283185307179586 * chance_uniform(chance);
    chance->spare = radius * sin(angle);
    chance->has_spare = true;
    return radius * cos(angle);
}

#endif
