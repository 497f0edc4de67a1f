#include "queue.h"

#define PLACES 128 /* a power of two; one place stays empty */

/*
 * After an overrun nothing more is taken until this much has been sent. A line that can't keep up then loses
 * pulses in few long holes with whole turns between them, rather than every third pulse.
 */
#define ROOM_TO_RESUME 32

static struct line places[PLACES];
static volatile uint8_t head; /* written by producers, interrupts off */
static volatile uint8_t tail; /* written by the main program */
static uint16_t next_seq;
static uint16_t lost;

volatile uint32_t queue_lost_total;

static inline __attribute__((always_inline)) void put(char channel, uint32_t tick, uint16_t count) {
    uint8_t at = head;
    struct line *place = &places[at];

    place->tick = tick;
    place->seq = next_seq++;
    place->count = count;
    place->channel = channel;
    head = (at + 1) & (PLACES - 1);
}

/* Make sure of one free place, reporting an overrun first if there was one. */
static inline bool room_at(uint32_t tick) {
    uint8_t room = (tail - head - 1) & (PLACES - 1);

    if (lost) {
        if (room < ROOM_TO_RESUME) {
            return false;
        }
        put('x', tick, lost);
        lost = 0;
        return true;
    }
    return room > 0;
}

void queue_pulse(char channel, uint32_t tick) {
    if (room_at(tick)) {
        put(channel, tick, 1);
        return;
    }
    next_seq++;
    lost++;
    queue_lost_total++;
}

bool queue_keep_alive(uint32_t tick) {
    if (!room_at(tick)) {
        return false;
    }
    put('k', tick, 1);
    return true;
}

bool queue_take(struct line *taken) {
    uint8_t at = tail;

    if (at == head) {
        return false;
    }
    *taken = places[at];
    tail = (at + 1) & (PLACES - 1);
    return true;
}

bool queue_is_empty(void) {
    return head == tail;
}

uint16_t queue_next_seq(void) {
    return next_seq;
}
