/*
 * main.c - pulse board for a spinning wheel: every edge of four sensors to a line of text.
 *
 * Interrupts stamp and queue; the main program sends the queue, answers commands, and sleeps in between.
 * The protocol is specified in ../../line-protocol.md.
 */
#include <avr/interrupt.h>

#include "board.h"
#include "clock.h"
#include "commands.h"
#include "idle.h"
#include "queue.h"
#include "say.h"
#include "sensors.h"
#include "serial.h"

#define KEEP_ALIVE_TICKS TICK_HZ

static uint32_t next_keep_alive = KEEP_ALIVE_TICKS;
static uint8_t lap_of_keep_alive = (KEEP_ALIVE_TICKS >> 15) + 1; /* the first to begin when it is due; low byte */

/* Laps are cheap to look at; the clock itself is read only with interrupts off. So up to 33 ms late. */
static bool keep_alive_is_due(void) {
    return (int8_t)(clock_lap() - lap_of_keep_alive) >= 0;
}

static void say_ignored_if_more(void) {
    static uint32_t said;
    uint32_t total = 0;

    for (uint8_t channel = 0; channel < CHANNELS; channel++) {
        total += sensors_ignored(channel);
    }
    if (total != said) {
        said = total;
        commands_say_ignored();
    }
}

/* While the queue is full the keep-alive waits: the lines being sent show life meanwhile. */
static void keep_alive(void) {
    uint32_t tick;
    bool queued;

    cli();
    tick = clock_now();
    queued = queue_keep_alive(tick);
    sei();
    if (queued) {
        next_keep_alive += KEEP_ALIVE_TICKS;
        lap_of_keep_alive = (uint8_t)((next_keep_alive >> 15) + 1);
        sensors_forget_old(tick);
        say_ignored_if_more();
    }
}

int main(void) {
    struct line line;

    idle_start();
    serial_start();
    clock_start();
    sensors_start();
    sei();
    commands_say_hello();
    SAY("# clock: restarted\n");
    for (;;) {
        idle_begin_look();
        if (keep_alive_is_due()) {
            keep_alive();
        }
        if (serial_has_command()) {
            commands_answer(serial_command());
            serial_command_done();
        } else if (queue_take(&line)) {
            say_line(&line);
        } else {
            idle_sleep();
        }
    }
}
