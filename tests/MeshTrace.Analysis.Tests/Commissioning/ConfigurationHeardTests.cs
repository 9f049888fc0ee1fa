using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Commissioning;

/// <summary>Config messages of Mesh Protocol 1.1 §4.3.2, octets by hand: opcode, then little-endian fields.</summary>
public sealed class ConfigurationHeardTests
{
    private readonly ConfigTalk _talk = new();

    [Fact]
    public void ARequest_IsConfirmedOrRefusedByItsStatus_OrStaysAsked()
    {
        _talk.Ask(0, "803d" + "0300" + "0000" + "0010").Answer(50, "803e" + "00" + "0300" + "0000" + "0010");       // bound
        _talk.Ask(100, "803d" + "0300" + "0700" + "0010").Answer(150, "803e" + "03" + "0300" + "0700" + "0010");    // Invalid AppKey Index
        _talk.Ask(200, "801b" + "0300" + "01c0" + "0010");                                                           // no Status heard
        IReadOnlyList<ConfigChange> changes = _talk.Analyse().Configuration!.Changes;
        Assert.Equal(
            [(ConfigKind.KeyBound, ConfigStanding.Confirmed, (byte?)0), (ConfigKind.KeyBound, ConfigStanding.Refused, 3), (ConfigKind.SubscriptionAdded, ConfigStanding.Asked, null)],
            changes.Select(change => (change.Kind, change.Standing, change.StatusCode)));
        Assert.Equal((0x0003, 0x1000, 0), (changes[0].Model!.Value.Element.Value, changes[0].Model!.Value.Model.Number, changes[0].KeyIndex));
        Assert.Equal("0xC001", changes[2].Address.ToString());
    }

    /// <summary>The first copy heard of a request was a repetition of it: its Status had been heard.</summary>
    [Fact]
    public void AStatusHeardShortlyBeforeTheFirstCopyOfItsRequest_IsItsAnswer()
    {
        _talk.Answer(0, "803e" + "00" + "0300" + "0000" + "0010").Ask(30, "803d" + "0300" + "0000" + "0010");          // bound
        _talk.Answer(5_000, "803e" + "03" + "0300" + "0700" + "0010").Ask(5_060, "803d" + "0300" + "0700" + "0010");    // Invalid AppKey Index
        _talk.Answer(9_000, "803e" + "03" + "0300" + "0800" + "0010").Ask(9_700, "803d" + "0300" + "0800" + "0010");    // too long before
        Assert.Equal([ConfigStanding.Confirmed, ConfigStanding.Refused, ConfigStanding.Asked], _talk.Analyse().Configuration!.Changes.Select(change => change.Standing));
    }

    [Fact]
    public void TheSameRequestAgain_IsATry_AndTheSecondStatusNothingNew()
    {
        _talk.Ask(0, "800d05").Ask(4_000, "800d05").Answer(4_050, "800e05").Answer(4_100, "800e05");
        ConfigChange change = Assert.Single(_talk.Analyse().Configuration!.Changes);
        Assert.Equal((2, ConfigStanding.Confirmed, 5), (change.Tries, change.Standing, change.Value));
    }

    [Fact]
    public void AStateToldOtherwiseThanAsked_WasNotSet()
    {
        _talk.Ask(0, "80270112").Answer(50, "80280212");      // relay on; it is not supported
        ConfigChange[] changes = [.. _talk.Analyse().Configuration!.Changes];
        Assert.Equal([(ConfigStanding.Refused, 1), (ConfigStanding.Confirmed, 2)], changes.Select(change => (change.Standing, change.Value)));
        Assert.Equal((3, 30), (changes[1].Transmit!.Value.Count, changes[1].Transmit!.Value.IntervalMs));     // 2 + 1 transmissions, (2 + 1) x 10 ms (§4.2.21)
    }

    [Theory]
    [InlineData("03" + "0300" + "01c0" + "0110" + "07" + "43" + "51" + "0110", "0xC001", 1, true, 7, 3_000, 1, 550)]
    [InlineData("03" + "0300" + "0000" + "0000" + "00" + "00" + "00" + "0110", "0x0000", 0, false, 0, 0, 0, 50)]
    public void APublication_IsReadInItsParts(string payload, string address, int key, bool friendship, int ttl, int period, int count, int interval)
    {
        _talk.Ask(0, payload);
        var publication = Assert.Single(_talk.Analyse().Configuration!.Changes).Publication!;
        Assert.Equal((address, key, friendship, ttl, period, count, interval),
            (publication.Address.ToString(), publication.AppKeyIndex!.Value, publication.FriendshipCredentials, publication.Ttl!.Value, publication.PeriodMs!.Value, publication.RetransmitCount!.Value, publication.RetransmitIntervalMs!.Value));
    }

    [Fact]
    public void Lists_TellEverythingAtOnce()
    {
        // Key indexes of 12 bits, two in three octets, an odd last one in two (§4.3.1.1): 0x123, 0x456, 0x789.
        _talk.Answer(0, "8043" + "236145" + "8907");
        _talk.Answer(50, "804c" + "00" + "0300" + "0010" + "0100");
        _talk.Answer(100, "802a" + "00" + "0300" + "0010" + "01c0" + "02c0");
        ConfigChange[] changes = [.. _talk.Analyse().Configuration!.Changes];
        Assert.Equal([0x123, 0x456, 0x789], changes[0].Indexes);
        Assert.Equal([1], changes[1].Indexes);
        Assert.Equal(["0xC001", "0xC002"], changes[2].Addresses.Select(address => address.ToString()));
        Assert.All(changes, change => Assert.Equal(ConfigStanding.Confirmed, change.Standing));
    }

    [Theory]
    [InlineData("803d")]
    [InlineData("803d0300")]
    [InlineData("801b030001c000")]
    [InlineData("0300")]
    [InlineData("8002")]
    [InlineData("02")]
    [InlineData("0200ffff")]
    [InlineData("804c00")]
    [InlineData("8027")]
    public void CutMessages_ChangeNothing(string payload)
    {
        _talk.Ask(0, payload).Answer(50, payload);
        Assert.Empty(_talk.Analyse().Configuration!.Changes);
    }

    [Fact]
    public void Messages_ThatNoDeviceKeyOpens_AreCounted()
    {
        _talk.Air.Access(0, 5, 1, 0x0001, 0x0007, "800d05", deviceKey: new byte[16]);
        CaptureHistory history = _talk.Analyse();
        Assert.Equal(1, Assert.Single(history.Configuration!.Unread).Value);
        Assert.Empty(history.Configuration.Changes);
    }

    [Fact]
    public void Events_SayEachStep()
    {
        _talk.Ask(0, "803d" + "0300" + "0000" + "0010").Ask(100, "803d" + "0300" + "0700" + "0010").Answer(150, "803e" + "03" + "0300" + "0700" + "0010").Ask(200, "8049").Answer(250, "804a");
        Assert.Equal(
            [
                (LifecycleKind.KeyBound, "binds AppKey 0 to Generic OnOff Server (0x1000) of 0x0003: asked, no Status heard"),
                (LifecycleKind.ConfigurationRefused, "binds AppKey 7 to Generic OnOff Server (0x1000) of 0x0003: refused, Invalid AppKey Index"),
                (LifecycleKind.NodeReset, "leaves the network (node reset)"),
            ], _talk.Analyse().Lifecycle.Select(one => (one.Kind, one.Says)));
    }
}
