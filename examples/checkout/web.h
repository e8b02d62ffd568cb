/*
 * The pages and calls of the checkout over HTTP, for browsers on this machine.
 */
#ifndef CHECKOUT_WEB_H
#define CHECKOUT_WEB_H

#include "shop.h"

#include <stdint.h>

struct web;

/* Listens on 127.0.0.1; port 0 = any free one. `pages` is the folder with the page. NULL = it cannot listen. */
struct web *web_open(struct shop *shop, const char *pages, uint16_t port);
uint16_t web_port(const struct web *web);
void web_close(struct web *web);

#endif
