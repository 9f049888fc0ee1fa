using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Tests.Access;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Protocol.Tests.UpperTransport.Control;

/// <summary>Every control message, in both directions. Octets of §8.3 and §8.16 of Mesh Protocol 1.1, or laid out by hand from §3.6.5.</summary>
public class ControlMessageTests
{
    internal static readonly (byte Opcode, string Octets, string Fields)[] Table =
    [
        (0x00, "A6AC00000002", "OBO=1 SeqZero=2475 RFU=0 BlockAck=2"),
        (0x01, "01", "Padding=0 FSN=1"),
        (0x02, "021234567801", "Flags=2 IVIndex=305419896 MD=1"),
        (0x03, "4B50057E400000010000", "CriteriaRFU=0 RSSIFactor=2 ReceiveWindowFactor=1 MinQueueSizeLog=3 ReceiveDelay=80 PollTimeout=360000 PreviousAddress=0 NumElements=1 LPNCounter=0"),
        (0x04, "320308BA072F", "ReceiveWindow=50 QueueSize=3 SubscriptionListSize=8 RSSI=-70 FriendCounter=1839"),
        (0x05, "12010003", "LPNAddress=4609 LPNCounter=3"),
        (0x06, "12010003", "LPNAddress=4609 LPNCounter=3"),
        (0x07, "05", "TransactionNumber=5 AddressList=[]"),
        (0x07, "05C000C001", "TransactionNumber=5 AddressList=[49152,49153]"),
        (0x08, "06C000", "TransactionNumber=6 AddressList=[49152]"),
        (0x09, "06", "TransactionNumber=6"),
        (0x0A, "850003", "RFU=1 InitTTL=5 Features=3"),
        (0x0B, "0A0C0006070405", "On_Behalf_Of_Dependent_Origin=0 Path_Origin_Path_Metric_Type=0 Path_Origin_Path_Lifetime=2 Path_Discovery_Interval=1 Prohibited=0 Path_Origin_Forwarding_Number=12 Path_Origin_Path_Metric=0 Destination=1543 Path_Origin_Unicast_Addr_Range={LengthPresent=0 RangeStart=1029}"),
        (0x0B, "8A0C000607840506877703", "On_Behalf_Of_Dependent_Origin=1 Path_Origin_Path_Metric_Type=0 Path_Origin_Path_Lifetime=2 Path_Discovery_Interval=1 Prohibited=0 Path_Origin_Forwarding_Number=12 Path_Origin_Path_Metric=0 Destination=1543 Path_Origin_Unicast_Addr_Range={LengthPresent=1 RangeStart=1029 RangeLength=6} Dependent_Origin_Unicast_Addr_Range={LengthPresent=1 RangeStart=1911 RangeLength=3}"),
        (0x0C, "0004050C", "Unicast_Destination=0 On_Behalf_Of_Dependent_Target=0 Confirmation_Request=0 Prohibited=0 Path_Origin=1029 Path_Origin_Forwarding_Number=12"),
        (0x0C, "8004050C0607", "Unicast_Destination=1 On_Behalf_Of_Dependent_Target=0 Confirmation_Request=0 Prohibited=0 Path_Origin=1029 Path_Origin_Forwarding_Number=12 Path_Target_Unicast_Addr_Range={LengthPresent=0 RangeStart=1543}"),
        (0x0C, "E004050C866605860704", "Unicast_Destination=1 On_Behalf_Of_Dependent_Target=1 Confirmation_Request=1 Prohibited=0 Path_Origin=1029 Path_Origin_Forwarding_Number=12 Path_Target_Unicast_Addr_Range={LengthPresent=1 RangeStart=1638 RangeLength=5} Dependent_Target_Unicast_Addr_Range={LengthPresent=1 RangeStart=1543 RangeLength=4}"),
        (0x0D, "04050607", "Path_Origin=1029 Path_Target=1543"),
        (0x0E, "", ""),
        (0x0F, "0405", "Destination=1029"),
        (0x10, "0004050ABC", "Type=0 Prohibited=0 Path_Endpoint=1029 Dependent_Node_Unicast_Addr_Range={LengthPresent=0 RangeStart=2748}"),
        (0x10, "8004058DEF03", "Type=1 Prohibited=0 Path_Endpoint=1029 Dependent_Node_Unicast_Addr_Range={LengthPresent=1 RangeStart=3567 RangeLength=3}"),
        (0x11, "C000C001", "Addr_List=[49152,49153]"),
    ];

    public static TheoryData<byte, string, string> Examples
    {
        get
        {
            var data = new TheoryData<byte, string, string>();
            foreach ((byte opcode, string octets, string fields) in Table)
                data.Add(opcode, octets, fields);
            return data;
        }
    }

    [Theory, MemberData(nameof(Examples))]
    public void IsReadAndWrittenBack(byte opcode, string hex, string fields)
    {
        DecodedControl message = ControlReader.Read(opcode, Convert.FromHexString(hex));
        Assert.Equal(opcode, message.Definition!.Opcode);
        Assert.False(message.Problem.IsProblem, message.Problem.ToString());
        Assert.Equal(fields, FieldText.Of(message.Fields));
        Assert.Equal(hex, Convert.ToHexString(ControlWriter.Write(message)));
    }

    [Theory]
    [InlineData(0x01, "", "no octets", ProblemKind.TooShort, 1, 0)]
    [InlineData(0x01, "0000", "one octet over", ProblemKind.TooLong, 1, 2)]
    [InlineData(0x0E, "00", "parameters where there are none", ProblemKind.TooLong, 0, 1)]
    [InlineData(0x07, "05C0", "half an address", ProblemKind.TooShort, 3, 2)]
    [InlineData(0x0B, "8A0C0006070405", "no dependent range", ProblemKind.TooShort, 8, 7)]
    public void BadBytes_AreNamedNotThrown(byte opcode, string hex, string why, ProblemKind kind, int needed, int had)
    {
        DecodeProblem problem = ControlReader.Read(opcode, Convert.FromHexString(hex)).Problem;
        Assert.True((kind, Layer.UpperTransport, needed, had) == (problem.Kind, problem.Layer, problem.Needed, problem.Had), $"{why}: {problem}");
    }

    [Fact]
    public void AnUndefinedOpcodeKeepsItsOctets()
    {
        DecodedControl message = ControlReader.Read(0x7E, [1, 2]);
        Assert.Null(message.Definition);
        Assert.Equal("Parameters=#0102", FieldText.Of(message.Fields));
        Assert.Equal([1, 2], ControlWriter.Write(message));
    }

    [Fact]
    public void WritesByName()
    {
        Assert.Equal("01", Convert.ToHexString(ControlWriter.Write("Friend Poll", ("FSN", 1))));
        Assert.Equal("050003", Convert.ToHexString(ControlWriter.Write("Heartbeat", ("InitTTL", 5), ("Features", 3))));
        Assert.Equal("05C000", Convert.ToHexString(ControlWriter.Write("Friend Subscription List Add",
            [DecodedField.OfNumber("TransactionNumber", 5), DecodedField.OfNumbers("AddressList", 0xC000)])));
    }

    // §3.6.7.3: hops = InitTTL - RxTTL + 1.
    [Theory]
    [InlineData(5, 5, 1)]
    [InlineData(5, 3, 3)]
    [InlineData(127, 1, 127)]
    [InlineData(5, 6, null)]
    public void HeartbeatHops(int initTtl, int receivedTtl, int? hops) => Assert.Equal(hops, Heartbeat.Hops(initTtl, receivedTtl));
}
