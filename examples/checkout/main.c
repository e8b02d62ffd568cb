/*
 * A checkout in the browser: what a cashier sees of a machine, a note in doubt, its checks and its end.
 *   checkout --ledger FILE [--adapter ID --device PORT] [--currency EUR] [--jurisdiction ID] [--language TAG]
 *            [--pages FOLDER] [--port N] [--port-file FILE]
 */
#include "shop.h"
#include "web.h"

#include <errno.h>
#include <getopt.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct call {
    struct shop_options shop;
    const char *pages;
    const char *port_file;
    uint16_t port;
};

static const struct option names[] = {
    {"adapter", required_argument, NULL, 'a'},   {"device", required_argument, NULL, 'd'},
    {"ledger", required_argument, NULL, 'l'},    {"currency", required_argument, NULL, 'c'},
    {"language", required_argument, NULL, 'g'},  {"jurisdiction", required_argument, NULL, 'j'},
    {"pages", required_argument, NULL, 'w'},     {"port", required_argument, NULL, 'p'},
    {"port-file", required_argument, NULL, 'f'}, {NULL, 0, NULL, 0},
};

static bool port_read(const char *text, uint16_t *port)
{
    char *end;
    errno = 0;
    unsigned long number = strtoul(text, &end, 10);
    *port = (uint16_t)number;
    return errno == 0 && end != text && *end == '\0' && number <= UINT16_MAX;
}

static bool option_take(struct call *call, int option)
{
    switch (option) {
    case 'a':
        call->shop.adapter = optarg;
        return true;
    case 'd':
        call->shop.port = optarg;
        return true;
    case 'l':
        call->shop.ledger = optarg;
        return true;
    case 'c':
        call->shop.currency = optarg;
        return strlen(optarg) == 3;
    case 'g':
        call->shop.language = optarg;
        return strlen(optarg) <= 16;
    case 'j':
        call->shop.jurisdiction = optarg;
        return strlen(optarg) <= 16;
    case 'w':
        call->pages = optarg;
        return true;
    case 'f':
        call->port_file = optarg;
        return true;
    case 'p':
        return port_read(optarg, &call->port);
    default:
        return false;
    }
}

static bool call_read(struct call *call, int argc, char **argv)
{
    int option;
    while ((option = getopt_long(argc, argv, "", names, NULL)) != -1) {
        if (!option_take(call, option))
            return false;
    }
    return optind == argc && call->shop.ledger != NULL && (call->shop.adapter == NULL) == (call->shop.port == NULL);
}

static bool port_tell(const struct call *call, uint16_t port)
{
    printf("The checkout is at http://127.0.0.1:%u/ (for browsers on this machine). End it with Ctrl-C.\n", port);
    fflush(stdout);
    if (call->port_file == NULL)
        return true;
    FILE *file = fopen(call->port_file, "w");
    return file != NULL && fprintf(file, "%u\n", port) > 0 && fclose(file) == 0;
}

int main(int argc, char **argv)
{
    struct call call = {.shop = {.currency = "EUR", .language = "en"}, .pages = PAGES_FOLDER};
    if (!call_read(&call, argc, argv)) {
        fprintf(stderr,
                "usage: checkout --ledger FILE [--adapter ID --device PORT] [--currency EUR] [--jurisdiction ID]\n"
                "                [--language TAG] [--pages FOLDER] [--port N] [--port-file FILE]\n");
        return 2;
    }
    /* Every thread that begins later leaves these to the one that waits for them. */
    sigset_t ends;
    sigemptyset(&ends);
    sigaddset(&ends, SIGINT);
    sigaddset(&ends, SIGTERM);
    pthread_sigmask(SIG_BLOCK, &ends, NULL);
    signal(SIGPIPE, SIG_IGN);
    struct shop *shop = shop_open(&call.shop);
    if (shop == NULL)
        return 1;
    struct web *web = web_open(shop, call.pages, call.port);
    int code = 1;
    if (web == NULL) {
        fprintf(stderr, "checkout: cannot listen on port %u; give another one, or 0 for any\n", call.port);
    } else if (port_tell(&call, web_port(web))) {
        int ended;
        code = sigwait(&ends, &ended) == 0 ? 0 : 1;
    }
    shop_news_end(shop); /* wakes every screen's thread before they are waited for */
    if (web != NULL)
        web_close(web);
    shop_close(shop);
    return code;
}
