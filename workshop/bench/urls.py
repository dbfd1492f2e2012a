"""Addresses of the Bench."""

from django.urls import URLPattern, path

from workshop.bench import (
    board,
    finding_views,
    offline_views,
    order_views,
    part_views,
    spring_views,
    step_views,
    ticket_views,
    time_views,
)

app_name = "bench"
urlpatterns: list[URLPattern] = [
    path("", board.board, name="board"),
    path("worker.js", offline_views.worker, name="worker"),
    path("<key:number>/", ticket_views.ticket, name="ticket"),
    path("<key:number>/spring/", spring_views.spring, name="spring"),
    path("<key:number>/take/", ticket_views.take, name="take"),
    path("<key:number>/start/<slug:key>/", ticket_views.start, name="start"),
    path("<key:number>/wait/", ticket_views.wait, name="wait"),
    path("<key:number>/finish/", ticket_views.finish, name="finish"),
    path("<key:number>/findings/", finding_views.note, name="note_finding"),
    path("<key:number>/findings/<key:pk>/withdraw/", finding_views.withdraw, name="withdraw_finding"),
    path("<key:number>/findings/<slug:token>/answer/", finding_views.answer, name="answer_finding"),
    path("<key:number>/findings/<slug:token>/reopen/", finding_views.reopen, name="reopen_finding"),
    path("<key:number>/time/", time_views.times, name="times"),
    path("<key:number>/parts-and-charges/", part_views.parts_and_charges, name="parts_and_charges"),
    path("<key:number>/parts/", part_views.parts, name="parts"),
    path("<key:number>/parts/add/", part_views.add, name="add_part"),
    path("<key:number>/parts/add-kit/", part_views.add_kit, name="add_kit"),
    path("<key:number>/parts/<key:pk>/quantity/", part_views.quantity, name="part_quantity"),
    path("<key:number>/parts/<key:pk>/price/", part_views.price, name="part_price"),
    path("<key:number>/parts/<key:pk>/drop/", part_views.drop_line, name="drop_part"),
    path("<key:number>/parts/<key:pk>/use/", part_views.use_line, name="use_part"),
    path("<key:number>/parts/<key:pk>/again/", part_views.again, name="part_again"),
    path("<key:number>/run/<key:run_pk>/", step_views.run, name="run"),
    path("<key:number>/run/<key:run_pk>/put-away/", ticket_views.put_away, name="put_away"),
    path("<key:number>/run/<key:run_pk>/order/", order_views.order, name="order"),
    path("<key:number>/run/<key:run_pk>/panels/", offline_views.panels, name="panels"),
    path("<key:number>/run/<key:run_pk>/<slug:key>/", step_views.step, name="step"),
    path("<key:number>/run/<key:run_pk>/<slug:key>/answer/", step_views.answer, name="answer"),
    path("<key:number>/run/<key:run_pk>/<slug:key>/minutes/", time_views.correct, name="correct_minutes"),
    path("<key:number>/run/<key:run_pk>/<slug:key>/judge/", step_views.judge, name="judge"),
    path("<key:number>/run/<key:run_pk>/<slug:key>/take-back/", step_views.take_back, name="take_back"),
    path("<key:number>/run/<key:run_pk>/<slug:key>/timer/", step_views.start, name="start_timer"),
    path("<key:number>/run/<key:run_pk>/<slug:key>/timer/stop/", step_views.stop, name="stop_timer"),
    path("<key:number>/run/<key:run_pk>/<slug:key>/photo/", step_views.photo, name="photo"),
]
