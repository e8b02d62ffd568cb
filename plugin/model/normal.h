/*
 * The normal distribution: how likely is a value of at most z, and back?
 */
#ifndef MODEL_NORMAL_H
#define MODEL_NORMAL_H

double normal_probability(double z);
double normal_quantile(double p); /* 0 < p < 1 */

#endif
