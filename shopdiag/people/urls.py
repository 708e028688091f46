from django.contrib.auth.decorators import login_required
from django.urls import path

from shopdiag.people import joining, views

app_name = "people"
urlpatterns = [
    path("sign-in/", views.SignInView.as_view(), name="sign-in"),
    path("sign-out/", views.SignOutView.as_view(), name="sign-out"),
    path("first-run/", views.first_run, name="first-run"),
    path("password/", login_required(views.OwnPasswordView.as_view()), name="password"),
    path("language/", login_required(views.own_language), name="language"),
    path("email/", login_required(views.own_email), name="email"),
    path("shops/", views.shops, name="shops"),
    path("team/", views.team, name="team"),
    path("team/add/", views.add_member, name="member-add"),
    path("team/<int:pk>/", views.change_member, name="member"),
    path("team/<int:pk>/password/", views.member_password, name="member-password"),
    path("team/invitations/", joining.invitations, name="invitations"),
    path("team/invitations/<int:pk>/revoke/", joining.revoke_invitation, name="invitation-revoke"),
    path("join/<str:key>/", joining.join, name="join"),
    path("shop/", views.shop, name="shop"),
    path("shop/tokens/", views.shop_tokens, name="shop-tokens"),
    path("shop/tokens/<int:pk>/revoke/", views.revoke_shop_token, name="shop-token-revoke"),
    path("tokens/", views.tokens, name="tokens"),
    path("tokens/<int:pk>/revoke/", views.revoke_token, name="token-revoke"),
]
