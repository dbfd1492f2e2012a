"""Addresses of Office, Reminders; included in the Office, so their names begin with office:."""

from django.urls import URLPattern, path

from workshop.office import ready_views
from workshop.office import reminder_due_views as due_views
from workshop.office import reminder_outbox_views as outbox_views
from workshop.office import reminder_text_views as text_views

urlpatterns: list[URLPattern] = [
    path("", due_views.due, name="reminders"),
    path("queue/", due_views.queue_ticked, name="reminders_queue"),
    path("unit/<key:unit>/", due_views.review, name="reminders_review"),
    path("unit/<key:unit>/snooze/", due_views.snooze, name="reminders_snooze"),
    path("unit/<key:unit>/skip/", due_views.skip, name="reminders_skip"),
    path("unit/<key:unit>/back/", due_views.bring_back, name="reminders_back"),
    path("sent/", outbox_views.outbox, name="reminders_outbox"),
    path("sent/send/", outbox_views.send, name="reminders_send"),
    path("sent/<key:pk>/", outbox_views.message, name="reminders_message"),
    path("sent/<key:pk>/letter/", outbox_views.letter, name="reminders_letter"),
    path("sent/<key:pk>/calendar/", outbox_views.calendar, name="reminders_calendar"),
    path("sent/<key:pk>/posted/", outbox_views.posted, name="reminders_posted"),
    path("sent/<key:pk>/again/", outbox_views.again, name="reminders_again"),
    path("sent/<key:pk>/call-off/", outbox_views.take_back, name="reminders_call_off"),
    path("wording/", text_views.text, name="reminders_text"),
    path("ready/", ready_views.ready_text, name="ready_text"),
    path("figures/", text_views.figures, name="reminders_figures"),
]
