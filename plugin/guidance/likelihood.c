/*
 * The arithmetic of evidence. See likelihood.h.
 */
#include "guidance/likelihood.h"

#include "model/normal.h"

#include <math.h>

/* ---- Spans ---- */

struct span span_add(struct span one, struct span other)
{
    return (struct span){one.low + other.low, one.centre + other.centre, one.high + other.high};
}

struct span span_log(double low, double centre, double high)
{
    return (struct span){log(low), log(centre), log(high)};
}

struct span span_clip(struct span span, struct span least, struct span most)
{
    return (struct span){
        fmin(fmax(span.low, least.low), most.low),
        fmin(fmax(span.centre, least.centre), most.centre),
        fmin(fmax(span.high, least.high), most.high),
    };
}

/* ---- Ratios and odds ---- */

double ratio_differs(double hit, double false_alarm)
{
    return hit / false_alarm;
}

double ratio_passes(double hit, double false_alarm)
{
    return (1 - hit) / (1 - false_alarm);
}

double discriminability(double hit, double false_alarm)
{
    return normal_quantile(hit) - normal_quantile(false_alarm);
}

double unbiased_hit(double d_prime)
{
    return normal_probability(d_prime / 2);
}

double log_odds(double probability)
{
    return log(probability) - log1p(-probability);
}

double log_odds_probability(double odds)
{
    return 1 / (1 + exp(-odds));
}

/* ---- Wald's sequential test ---- */

void wald_test(double p0, double p1, double alpha, double beta, struct wald *wald)
{
    double differs = log(p1 / p0);
    double passes = log1p(-p1) - log1p(-p0);
    double g = differs - passes;
    double step_p0 = p0 * differs + (1 - p0) * passes; /* what one look adds on the average */
    double step_p1 = p1 * differs + (1 - p1) * passes;
    wald->upper = log((1 - beta) / alpha);
    wald->lower = log(beta / (1 - alpha));
    wald->intercept_low = wald->lower / g;
    wald->intercept_high = wald->upper / g;
    wald->slope = -passes / g;
    wald->looks_p0 = ((1 - alpha) * wald->lower + alpha * wald->upper) / step_p0;
    wald->looks_p1 = (beta * wald->lower + (1 - beta) * wald->upper) / step_p1;
    wald->looks_between = -wald->intercept_low * wald->intercept_high / (wald->slope * (1 - wald->slope));
}

/* ---- Information ---- */

static double total_of(const double *weights, uint32_t count)
{
    double total = 0;
    for (uint32_t i = 0; i < count; i++)
        total += weights[i];
    return total;
}

double entropy(const double *weights, uint32_t count)
{
    double total = total_of(weights, count);
    double bits = 0;
    for (uint32_t i = 0; i < count; i++) {
        double p = weights[i] / total;
        if (p > 0)
            bits -= p * log2(p);
    }
    return bits;
}

double information_gain(const double *joint, uint32_t outcomes, uint32_t states)
{
    double total = total_of(joint, outcomes * states);
    double gain = 0;
    /* Summed cell by cell, P(t,s) log2( P(t,s) / (P(t) P(s)) ): H(S) - sum P(t) H(S|t) rearranged, without the
     * difference of two nearly equal numbers when one state is very rare. */
    for (uint32_t t = 0; t < outcomes; t++) {
        double outcome = total_of(&joint[t * states], states);
        for (uint32_t s = 0; s < states; s++) {
            double cell = joint[t * states + s];
            double state = 0;
            for (uint32_t other = 0; other < outcomes; other++)
                state += joint[other * states + s];
            if (cell > 0)
                gain += cell / total * log2(cell * total / (outcome * state));
        }
    }
    return fmax(gain, 0);
}

double look_information(double odds, double hit, double false_alarm)
{
    double not_genuine = log_odds_probability(odds);
    double genuine = log_odds_probability(-odds);
    const double joint[] = {
        hit * not_genuine,
        false_alarm * genuine,
        (1 - hit) * not_genuine,
        (1 - false_alarm) * genuine,
    };
    return information_gain(joint, 2, 2);
}
