def test_the_cast_has_its_roles(cast):
    assert cast.ground.roles.count() == 3
