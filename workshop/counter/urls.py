"""Addresses of the Counter."""

from django.urls import URLPattern, path

from workshop.counter import (
    booking_views,
    complaint_views,
    customer_views,
    photo_views,
    search_views,
    ticket_list,
    ticket_views,
    today,
    unit_views,
)

app_name = "counter"
urlpatterns: list[URLPattern] = [
    path("", today.today, name="today"),
    path("outlook/", today.outlook, name="outlook"),
    path("search/", search_views.search, name="search"),
    path("book-in/", booking_views.book_in, name="book_in"),
    path("book-in/look-up/", booking_views.look_up, name="book_in_look_up"),
    path("book-in/customers/", booking_views.customers, name="book_in_customers"),
    path("book-in/things/", booking_views.things, name="book_in_things"),
    path("book-in/complaints/", complaint_views.complaints, name="book_in_complaints"),
    path("book-in/promise/", booking_views.promise, name="book_in_promise"),
    path("book-in/models/", booking_views.models, name="book_in_models"),
    path("book-in/serials/", booking_views.serials, name="book_in_serials"),
    path("tickets/", ticket_list.tickets, name="tickets"),
    path("tickets/<key:number>/", ticket_views.ticket, name="ticket"),
    path("tickets/<key:number>/logbook/", ticket_views.logbook, name="logbook"),
    path("tickets/<key:number>/move/", ticket_views.move_ticket, name="move"),
    path("tickets/<key:number>/agreement/", ticket_views.edit_agreement, name="edit_agreement"),
    path("tickets/<key:number>/settings/<slug:moment>/", ticket_views.settings, name="settings"),
    path("tickets/<key:number>/hand-back/", ticket_views.hand_back_ticket, name="hand_back"),
    path("tickets/<key:number>/condition/", ticket_views.add_condition, name="add_condition"),
    path("tickets/<key:number>/photos/", photo_views.add_photos, name="add_photos"),
    path("photos/<key:pk>/", photo_views.photo, name="photo"),
    path("photos/<key:pk>/small/", photo_views.small_photo, name="small_photo"),
    path("customers/", customer_views.customers, name="customers"),
    path("customers/new/", customer_views.new_customer, name="new_customer"),
    path("customers/<key:pk>/", customer_views.customer, name="customer"),
    path("customers/<key:pk>/edit/", customer_views.change_customer, name="change_customer"),
    path("customers/<key:pk>/new-bike/", customer_views.new_bike, name="new_bike"),
    path("customers/<key:pk>/new-unit/", unit_views.new_unit, name="new_unit"),
    path("bikes/<key:pk>/", customer_views.bike, name="bike"),
    path("bikes/<key:pk>/edit/", customer_views.change_bike, name="change_bike"),
    path("units/<key:pk>/", unit_views.unit, name="unit"),
    path("units/<key:pk>/edit/", unit_views.change_unit, name="change_unit"),
    path("units/<key:pk>/move/", unit_views.move_unit, name="move_unit"),
    path("units/<key:pk>/give/", unit_views.give_unit, name="give_unit"),
    path("models/", unit_views.models, name="models"),
]
