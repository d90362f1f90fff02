"""The trade's things as frozen records, and the kinds of events that change them."""
