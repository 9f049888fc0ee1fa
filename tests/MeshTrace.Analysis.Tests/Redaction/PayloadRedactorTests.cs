using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Redaction;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Analysis.Tests.Redaction;

/// <summary>What messages name is replaced field by field; what they do stays.</summary>
public sealed class PayloadRedactorTests
{
    private static readonly byte[] Sixteen = [.. Enumerable.Range(0x41, 16).Select(octet => (byte)octet)];

    private readonly Pseudonyms _pseudonyms;
    private readonly PayloadRedactor _redactor, _keeping;

    public PayloadRedactorTests()
    {
        var keys = new KeyRing();
        keys.AddNetKey(Sixteen, 0, KeyOrigin.Given);
        PseudonymGenerator generator = PseudonymGenerator.For(keys);
        _pseudonyms = new Pseudonyms(keys, generator, new AddressPseudonyms(generator, new HashSet<ushort>(), [(0x0003, 2), (0x0009, 1)], []), []);
        (_redactor, _keeping) = (new PayloadRedactor(_pseudonyms, keepsOctets: false), new PayloadRedactor(_pseudonyms, keepsOctets: true));
    }

    [Fact]
    public void StatesAndNumbers_Stay()
    {
        byte[] set = AccessWriter.Write("Generic OnOff Set", ("OnOff", 1), ("TID", 5));
        Assert.Equal(set, _redactor.Access(set));
        byte[] heartbeat = ControlWriter.Write("Heartbeat", ("InitTTL", 5), ("Features", 3));
        Assert.Equal(heartbeat, _redactor.Control(0x0A, heartbeat));
    }

    [Fact]
    public void Addresses_BecomePseudonymsInEveryMessageThatNamesThem()
    {
        byte[] add = AccessWriter.Write("Config Model Subscription Add", DecodedField.OfNumber("ElementAddress", 0x0004), DecodedField.OfNumber("Address", 0xC002), DecodedField.OfNumber("ModelIdentifier", 0x1000, 16));
        DecodedMessage read = AccessReader.Read(_redactor.Access(add));
        Assert.Equal(Of(0x0004), read["ElementAddress"]!.Number);
        Assert.Equal(Of(0xC002), read["Address"]!.Number);
        Assert.Equal(0x1000, read["ModelIdentifier"]!.Number);

        byte[] list = AccessWriter.Write("Config SIG Model Subscription List", DecodedField.OfNumber("Status", 0), DecodedField.OfNumber("ElementAddress", 0x0004),
            DecodedField.OfNumber("ModelIdentifier", 0x1000), DecodedField.OfNumbers("Addresses", 0xC002, 0xC005));
        Assert.Equal([Of(0xC002), Of(0xC005)], AccessReader.Read(_redactor.Access(list))["Addresses"]!.Children.Select(child => child.Number));

        byte[] clear = ControlWriter.Write("Friend Clear", ("LPNAddress", 0x0009), ("LPNCounter", 77));
        DecodedControl cleared = ControlReader.Read(0x05, _redactor.Control(0x05, clear));
        Assert.Equal((Of(0x0009), 77), (cleared["LPNAddress"]!.Number, cleared["LPNCounter"]!.Number));
    }

    [Fact]
    public void KeysAndLabels_BecomeThoseOfTheFreshNetwork()
    {
        byte[] key = AccessWriter.Write("Config AppKey Add", DecodedField.OfNumber("NetKeyIndex", 0), DecodedField.OfNumber("AppKeyIndex", 3), DecodedField.OfOctets("AppKey", Sixteen));
        Assert.Equal(_pseudonyms.Key(Sixteen), AccessReader.Read(_redactor.Access(key))["AppKey"]!.Octets.ToArray());
        Assert.Equal(_pseudonyms.Key(Sixteen), AccessReader.Read(_keeping.Access(key))["AppKey"]!.Octets.ToArray());     // whatever is kept
        byte[] label = AccessWriter.Write("Config Model Subscription Virtual Address Add", DecodedField.OfNumber("ElementAddress", 0x0004), DecodedField.OfOctets("LabelUUID", Sixteen),
            DecodedField.OfNumber("ModelIdentifier", 0x1000, 16));
        Assert.Equal(_pseudonyms.Addresses.Of(new Guid(Sixteen, bigEndian: true)), new Guid(AccessReader.Read(_redactor.Access(label))["LabelUUID"]!.Octets.Span, bigEndian: true));
    }

    [Fact]
    public void VendorMessages_LoseTheirWordsUnlessTheyAreKept()
    {
        byte[] hello = [0xC1, 0xFF, 0xFF, .. "hello"u8], world = [0xC1, 0xFF, 0xFF, .. "world"u8];
        byte[] redacted = _redactor.Access(hello);
        Assert.Equal(hello.Length, redacted.Length);
        Assert.Equal(hello[..3], redacted[..3]);
        Assert.NotEqual(hello[3..], redacted[3..]);
        Assert.Equal(redacted, _redactor.Access(hello));        // what is repeated is still the same
        Assert.NotEqual(redacted, _redactor.Access(world));
        Assert.Equal(hello, _keeping.Access(hello));
    }

    [Fact]
    public void PlaceOnEarth_BecomesNone()
    {
        byte[] here = AccessWriter.Write("Generic Location Global Set", ("GlobalLatitude", 123456), ("GlobalLongitude", -98765), ("GlobalAltitude", 345));
        Assert.All(AccessReader.Read(_redactor.Access(here)).Fields, field => Assert.Equal(0, field.Number));
    }

    /// <summary>Too short, too long, no message at all: of each the length stays, and no octet that nobody understood.</summary>
    [Theory, InlineData("801b0400"), InlineData("801b"), InlineData("801b040002c0001011"), InlineData("7f414243"), InlineData("82020105414243")]
    public void BadMessages_KeepTheirLengthAndNothingElse(string hex)
    {
        byte[] payload = Convert.FromHexString(hex), redacted = _redactor.Access(payload);
        Assert.Equal(payload.Length, redacted.Length);
        if (payload.Length > 3)
            Assert.NotEqual(payload[^2..], redacted[^2..]);
    }

    [Fact]
    public void AnyOctets_KeepTheirLength()
    {
        var chance = new Random(5);
        for (int i = 0; i < 20_000; i++)
        {
            byte[] payload = new byte[chance.Next(1, 60)];
            chance.NextBytes(payload);
            Assert.Equal(payload.Length, _redactor.Access(payload).Length);
            Assert.Equal(payload.Length, _redactor.Control((byte)chance.Next(128), payload).Length);
        }
    }

    private long Of(ushort address) => _pseudonyms.Addresses.Of(new MeshAddress(address)).Value;
}
