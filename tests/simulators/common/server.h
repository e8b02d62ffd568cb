/* Who is connected, and whose turn is it? The TCP side and the main loop of every simulator. */
#ifndef SIMULATOR_SERVER_H
#define SIMULATOR_SERVER_H

#include "actor.h"

/* One simulator program. */
struct program {
    const char *name;
    const struct language *language;
    void *settings; /* with the defaults already in it */
    /* Called when the port is open; fills the actor. */
    void (*start)(const struct script *script, const struct truth *truth, struct actor *actor);
};

/* The whole of main: options, script, run. Gives the exit status. */
int server_main(const struct program *program, int count, char **arguments);

#endif
