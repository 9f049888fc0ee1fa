using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>What the raw values say in human words and units.</summary>
public class ReadsTests
{
    [Theory]
    // Generic Default Transition Time (Mesh Model 1.1 §3.1.3): steps in the low 6 bits; resolutions 100 ms, 1 s, 10 s, 10 min.
    [InlineData("820E00", "TransitionTime", "at once")]
    [InlineData("820E05", "TransitionTime", "500 ms")]
    [InlineData("820E0F", "TransitionTime", "1.5 s")]
    [InlineData("820E42", "TransitionTime", "2.0 s")]
    [InlineData("820E8A", "TransitionTime", "1 min 40 s")]
    [InlineData("820EFE", "TransitionTime", "10 h 20 min")]
    [InlineData("820E3F", "TransitionTime", "unknown")]
    [InlineData("82020005FF00", "Delay", "0 ms")]
    [InlineData("8202000500FF", "Delay", "1.275 s")]
    [InlineData("82040001C1", "TargetOnOff", "on")]
    [InlineData("820402", "PresentOnOff", "reserved value")]
    [InlineData("8206008001", "Level", null)]
    // Light states: 65535 = 100 % or 360 degrees; kelvin; delta UV / 32768 (Mesh Model 1.1 §6.1).
    [InlineData("824EFFFF", "PresentLightness", "100.0 %")]
    [InlineData("824E0080", "PresentLightness", "50.0 %")]
    [InlineData("826AFFFF1027FFFF", "Temperature", "10000 K")]
    [InlineData("826AFFFF10270040", "DeltaUV", "0.50000")]
    [InlineData("82710080", "PresentHue", "180.0 °")]
    [InlineData("8250FFFF01", "Lightness", "100.0 %")]
    // Battery (Mesh Model 1.1 §3.1.6): percent, minutes, flags from the low bits: presence, indicator, charging, serviceability.
    [InlineData("822432FFFFFF3C000069", "BatteryLevel", "50 %")]
    [InlineData("8224FFFFFFFF3C000069", "BatteryLevel", "unknown")]
    [InlineData("822432FFFFFF3C000069", "TimeToDischarge", "unknown")]
    [InlineData("822432FFFFFF3C000069", "TimeToCharge", "1 h")]
    [InlineData("822432FFFFFF3C000069", "Flags", "removable battery; good; charging; needs no service")]
    // Location: degrees of 2^31 - 1 parts (Mesh Model 1.1 §3.1.7).
    [InlineData("40FFFFFF7F000000800000", "GlobalLatitude", "90.0000000 °")]
    [InlineData("40FFFFFF7F000000800000", "GlobalLongitude", "not configured")]
    [InlineData("40FFFFFF7F00000080FF7F", "GlobalAltitude", "not configured")]
    [InlineData("8227640000800000160000", "LocalNorth", "10.0 m")]
    [InlineData("8227640000800000160000", "LocalEast", "not configured")]
    [InlineData("8227640000800000160000", "FloorNumber", "2")]
    // Sensors: Temperature 8 in 0.5 °C, Illuminance in 0.01 lx, tolerance of 4095 parts, period 1.1^(n - 64) s.
    [InlineData("52E0092B", "Marshalled_Sensor_Data/0/RawValue", "21.5 °C")]
    [InlineData("52E0097F", "Marshalled_Sensor_Data/0/RawValue", "unknown")]
    [InlineData("52C409102700", "Marshalled_Sensor_Data/0/RawValue", "100.00 lx")]
    [InlineData("52C409102700", "Marshalled_Sensor_Data/0/PropertyID", "0x004E Present Ambient Light Level")]
    [InlineData("52E2091027", "Marshalled_Sensor_Data/0/RawValue", "2 octets, 1 expected")]
    [InlineData("514F00FF6F46014047", "Descriptors/0/SensorPositiveTolerance", "100.00 %")]
    [InlineData("514F00FF6F46014047", "Descriptors/0/SensorSamplingFunction", "instantaneous")]
    [InlineData("514F00FF6F46014000", "Descriptors/0/SensorMeasurementPeriod", "1.0 s")]
    [InlineData("514F00FF6F46014000", "Descriptors/0/SensorUpdateInterval", "not applicable")]
    [InlineData("564F00836400C8000A1020", "StatusTriggerDeltaDown", "1.00 %")]
    [InlineData("564F00836400C8000A1020", "StatusMinInterval", "1.024 s")]
    [InlineData("564F00836400C8000A1020", "FastCadenceLow", "8.0 °C")]
    [InlineData("564F00836400C8000A1020", "FastCadencePeriodDivisor", "8 times as often")]
    [InlineData("643A00E80300", "LightLCPropertyValue", "1.0 s")]
    [InlineData("4C130038FFC409", "UserPropertyValue", "Minimum -2.00 °C, Maximum 25.00 °C")]
    [InlineData("4E0200037D0040", "UserPropertyValue", "Current 1.25 A, SensingDuration 1.0 s")]
    [InlineData("4E0200037D00FE", "UserPropertyValue/SensingDuration", "life of the device")]
    [InlineData("4E0C0003E84D00", "UserPropertyValue", "2024-08-09")]   // 19944 days after 1970-01-01
    [InlineData("4E5900034085", "UserPropertyValue", "533.000 V")]
    [InlineData("5361001000200064", "RawValueY", "50.0 %")]
    // Time: 2000-01-01T00:00:32 TAI was 2000-01-01T00:00:00 UTC, when TAI - UTC was 32 s (IERS Bulletin C); the field adds 255.
    [InlineData("5D200000000000003E0240", "TAISeconds", "2000-01-01 00:00:00 UTC")]
    [InlineData("5D200000000000003E0240", "TAI-UTCDelta", "32 s")]
    [InlineData("5D200000000000003E0244", "TimeZoneOffset", "1.00 h")]
    [InlineData("5D0000000000", "TAISeconds", "unknown")]
    [InlineData("823C408051010000", "TAIofZoneChange", "2000-01-02 00:00:00 TAI")]
    // Scheduler (Mesh Model 1.1 §5.1.4.2).
    [InlineData("5F43FE7F203DE023410500", "Year", "any year")]
    [InlineData("5F43FE7F203DE023410500", "Day", "any day")]
    [InlineData("5F43FE7F203DE023410500", "Hour", "18 h")]
    [InlineData("5F43FE7F203DE023410500", "DayOfWeek", "Monday, Tuesday, Wednesday, Thursday, Friday")]
    [InlineData("5F43FE7F203DE023410500", "Action", "recall the scene")]
    [InlineData("824A0500", "Schedules", "entry 0, entry 2")]
    // Config: addresses, models, key lists, times of steps, status codes (Mesh Protocol 1.1 §4.3.14).
    [InlineData("803E04010000000010", "Status", "Invalid NetKey Index")]
    [InlineData("803E00010000000010", "ModelIdentifier", "0x1000 Generic OnOff Server")]
    [InlineData("803E00010000003F002A00", "ModelIdentifier", "company 0x003F, model 0x002A")]
    [InlineData("803E00010000000010", "ElementAddress", "0x0001")]
    [InlineData("802A000100001000C001C0", "Addresses", "0xC000, 0xC001")]
    [InlineData("03010000C00000FF4A5D0010", "PublishPeriodSteps", "10.0 s")]
    [InlineData("03010000C00000FF4A5D0010", "PublishTTL", "the default TTL")]
    [InlineData("03010000C00000FF4A5D0010", "PublishRetransmitIntervalSteps", "600 ms")]
    [InlineData("03010000C00000FF005D0010", "PublishPeriodSteps", "off")]
    [InlineData("802512", "NetworkTransmitCount", "3 transmissions")]
    [InlineData("802512", "NetworkTransmitIntervalSteps", "30 ms")]
    [InlineData("802E01000A0000", "PollTimeout", "1.0 s")]
    [InlineData("802E0100000000", "PollTimeout", "not a friend of that node")]
    [InlineData("80390100FF057F03000000", "CountLog", "without end")]
    [InlineData("80390100FF057F03000000", "PeriodLog", "16.0 s")]
    [InlineData("80390100FF057F03000000", "Features", "relay, proxy")]
    [InlineData("02000C001A0001000800030000010501000000800100001003103F002A00", "Data/Elements/0/SIGModelIDs", "0x0000 Configuration Server, 0x8000, 0x0001 Configuration Client, 0x1000 Generic OnOff Server, 0x1003 Generic Level Client")]
    [InlineData("80200100F4A002C7FB1E4CA0A469A021DE0DB8750010", "LabelUUID", "f4a002c7-fb1e-4ca0-a469-a021de0db875")]
    [InlineData("04000000010E80", "FaultArray", "Battery Low Warning, Overheat Error, Vendor Specific 0x80")]
    [InlineData("80055A", "Attention", "1 min 30 s")]
    // SAR (Mesh Protocol 1.1 §4.2.48, §4.2.49): the defaults that the standard states.
    [InlineData("806D25722109", "SAR_Segment_Interval_Step", "60 ms")]
    [InlineData("806D25722109", "SAR_Unicast_Retransmissions_Interval_Step", "200 ms")]
    [InlineData("8070235100", "SAR_Acknowledgment_Delay_Increment", "2.5 segment intervals")]
    [InlineData("8070235100", "SAR_Discard_Timeout", "10.0 s")]
    // Directed forwarding, bridge.
    [InlineData("808423C1692403F1AC0501000100", "Path_Origin_Unicast_Addr_Range", "0x1234-0x1236")]
    [InlineData("807F230108", "Path_Lifetime", "2 h")]
    [InlineData("80A1B00F", "Default_RSSI_Threshold", "-80 dBm")]
    [InlineData("80B402236145AA0ABB0B", "Directions", "both directions")]
    // BLOB and firmware.
    [InlineData("6780010000020D00", "Missing_Chunks", "0, 2-3")]
    [InlineData("8301800102030405060708000400000A4001", "Transfer_Mode", "pull")]
    [InlineData("8301800102030405060708000400000A4001", "Block_Size_Log", "1024 octets")]
    [InlineData("8301800102030405060708000400000A4001", "BLOB_ID", "0x0807060504030201")]
    [InlineData("830D050500010203040506070800", "Update_Timeout_Base", "1 min")]
    [InlineData("80720100048201", "Items/0/Opcode_And_Parameters/Opcode", "Generic OnOff Get")]
    public void Access(string hex, string path, string? reads)
    {
        DecodedMessage message = AccessReader.Read(Convert.FromHexString(hex));
        DecodedField group = DecodedField.OfGroup("message", message.Fields);
        foreach (string step in path.Split('/'))
            group = char.IsAsciiDigit(step[0]) ? group.Children[step[0] - '0'] : group[step]!;
        Assert.Equal(reads, group.Reads);
    }

    // §8.3.1: criteria 0x4B: RSSI factor 2 (2), window factor 1 (1.5), queue of 2^3; delay 0x50; timeout 0x057E40 x 100 ms.
    [Theory]
    [InlineData(0x03, "4B50057E400000010000", "RSSIFactor", "2.0")]
    [InlineData(0x03, "4B50057E400000010000", "ReceiveWindowFactor", "1.5")]
    [InlineData(0x03, "4B50057E400000010000", "MinQueueSizeLog", "8 messages")]
    [InlineData(0x03, "4B50057E400000010000", "ReceiveDelay", "80 ms")]
    [InlineData(0x03, "4B50057E400000010000", "PollTimeout", "10 h")]
    [InlineData(0x04, "320308BA072F", "RSSI", "-70 dBm")]
    [InlineData(0x04, "3203087F072F", "RSSI", "not available")]
    [InlineData(0x02, "021234567801", "Flags", "IV update")]
    [InlineData(0x02, "021234567801", "MD", "more messages")]
    [InlineData(0x0A, "050003", "Features", "relay, proxy")]
    [InlineData(0x10, "8004058DEF03", "Type", "add")]
    [InlineData(0x10, "8004058DEF03", "Dependent_Node_Unicast_Addr_Range", "0x0DEF-0x0DF1")]
    [InlineData(0x00, "A6AC00000002", "BlockAck", "0x00000002")]
    public void Control(byte opcode, string hex, string field, string reads) =>
        Assert.Equal(reads, ControlReader.Read(opcode, Convert.FromHexString(hex))[field]!.Reads);
}
