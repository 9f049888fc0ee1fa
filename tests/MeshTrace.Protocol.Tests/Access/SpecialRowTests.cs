using MeshTrace.Protocol.Access;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>
/// The rows whose fields depend on one another, by example. The octets were laid out by hand from the message tables of the standard; those
/// with a § of chapter 8 are its worked examples.
/// </summary>
public class SpecialRowTests
{
    private const string Uuid = "70CF7C9732A345B691494810D2E9CBF4";

    public static TheoryData<string, string> Examples
    {
        get
        {
            var data = new TheoryData<string, string>();
            foreach ((string payload, string fields) in Table)
                data.Add(payload, fields);
            return data;
        }
    }

    internal static readonly (string Payload, string Fields)[] Table =
    [
        // Composition data: page 0 of §8.10.1 and page 1 of §8.10.2; page 2; a page that is not defined.
        ("02000C001A0001000800030000010501000000800100001003103F002A00",
            "Page=0 Data={CID=12 PID=26 VID=1 CRPL=8 Features=3 Elements=[{Loc=256 NumS=5 NumV=1 SIGModelIDs=[0,32768,1,4096,4099] VendorModelIDs=[4128810]}]}"),
        ("028102010005000000010201000501170101",
            "Page=129 Data={Elements=[{Number_S=2 Number_V=1 Model_Items=["
            + "{Corresponding_Present=0 Format=0 Extended_Items_Count=0 Extended_Model_Items=[]},"
            + "{Corresponding_Present=1 Format=0 Extended_Items_Count=1 Corresponding_Group_ID=0 Extended_Model_Items=[{Element_Offset=0 Model_Item_Index=0}]},"
            + "{Corresponding_Present=0 Format=0 Extended_Items_Count=0 Extended_Model_Items=[]}]},"
            + "{Number_S=1 Number_V=2 Model_Items=["
            + "{Corresponding_Present=1 Format=0 Extended_Items_Count=0 Corresponding_Group_ID=0 Extended_Model_Items=[]},"
            + "{Corresponding_Present=1 Format=0 Extended_Items_Count=1 Corresponding_Group_ID=1 Extended_Model_Items=[{Element_Offset=-1 Model_Item_Index=2}]},"
            + "{Corresponding_Present=1 Format=0 Extended_Items_Count=0 Corresponding_Group_ID=1 Extended_Model_Items=[]}]}]}"),
        ("0201010006FC05", "Page=1 Data={Elements=[{Number_S=1 Number_V=0 Model_Items=[{Corresponding_Present=0 Format=1 Extended_Items_Count=1 Extended_Model_Items=[{Element_Offset=-4 Model_Item_Index=5}]}]}]}"),
        ("0202021601000001000200ABCD", "Page=2 Data={NLC_Profiles=[{Mesh_Profile_Identifier=5634 Version_X=1 Version_Y=0 Version_Z=0 Num_Element_Offsets=1 Element_Offsets=[0] Additional_Data_Length=2 Additional_Data=#ABCD}]}"),
        ("02050102", "Page=5 Data=#0102"),
        ("80750000000A000C001A00010008000300", "Page=0 Offset=0 Total_Size=10 Data={CID=12 PID=26 VID=1 CRPL=8 Features=3 Elements=[]}"),
        ("80750002001C000102", "Page=0 Offset=2 Total_Size=28 Data=#0102"),
        // Models metadata page 0 of §8.14, whole and a piece of it.
        ("80770000003A0002010000010700010000112233445566010001040002000011223336010100010600030000112233445500013601020001050004000011223344",
            "Metadata_Page=0 Offset=0 Total_Size=58 Data={Elements=[{Number_S=2 Number_V=1 SIG_Models=["
            + "{Model_ID=0 Metadata_Entries_Number=1 Metadata_Entries=[{Metadata_Length=7 Metadata_ID=1 Metadata=#00112233445566}]},"
            + "{Model_ID=1 Metadata_Entries_Number=1 Metadata_Entries=[{Metadata_Length=4 Metadata_ID=2 Metadata=#00112233}]}] Vendor_Models=["
            + "{Model_ID=20316161 Metadata_Entries_Number=1 Metadata_Entries=[{Metadata_Length=6 Metadata_ID=3 Metadata=#001122334455}]}]},"
            + "{Number_S=0 Number_V=1 SIG_Models=[] Vendor_Models=["
            + "{Model_ID=20316162 Metadata_Entries_Number=1 Metadata_Entries=[{Metadata_Length=5 Metadata_ID=4 Metadata=#0011223344}]}]}]}"),
        ("80770003003A0001", "Metadata_Page=0 Offset=3 Total_Size=58 Data=#01"),

        // Property values: text, a number, a group, an unknown property.
        ("460E00", "ManufacturerPropertyID=14"),
        ("460E000172657620312E3233", "ManufacturerPropertyID=14 ManufacturerUserAccess=1 ManufacturerPropertyValue='rev 1.23'"),
        ("485600032B", "AdminPropertyID=86 AdminUserAccess=3 AdminPropertyValue=43"),
        ("49560003D5", "AdminPropertyID=86 AdminUserAccess=3 AdminPropertyValue=-43"),
        ("4A5600", "AdminPropertyID=86"),
        ("4A5600012B", "AdminPropertyID=86 AdminUserAccess=1 AdminPropertyValue=43"),
        ("4C130038FFC409", "UserPropertyID=19 UserPropertyValue={Minimum=-200 Maximum=2500}"),
        ("4D34120102", "UserPropertyID=4660 UserPropertyValue=#0102"),
        ("4E7200", "UserPropertyID=114"),
        ("4E720003E8030000", "UserPropertyID=114 UserAccess=3 UserPropertyValue=1000"),
        ("622B0050C300", "LightLCPropertyID=43 LightLCPropertyValue=50000"),
        ("6332000000C03F", "LightLCPropertyID=50 LightLCPropertyValue=1.5"),
        ("643A00E80300", "LightLCPropertyID=58 LightLCPropertyValue=1000"),

        // Sensors: descriptors, marshalled values in both formats, columns, cadence by value and by percent, settings.
        ("51", "Descriptors=[]"),
        ("514F00", "Descriptors=[{PropertyID=79}]"),
        ("514F00236145014047", "Descriptors=[{PropertyID=79 SensorPositiveTolerance=291 SensorNegativeTolerance=1110 SensorSamplingFunction=1 SensorMeasurementPeriod=64 SensorUpdateInterval=71}]"),
        ("52", "Marshalled_Sensor_Data=[]"),
        ("52E0092BC409102700054E00102700FF5500",
            "Marshalled_Sensor_Data=[{Format=0 Length=0 PropertyID=79 RawValue=43},{Format=0 Length=2 PropertyID=78 RawValue=10000},"
            + "{Format=1 Length=2 PropertyID=78 RawValue=10000},{Format=1 Length=127 PropertyID=85}]"),
        ("520345230102", "Marshalled_Sensor_Data=[{Format=1 Length=1 PropertyID=9029 RawValue=#0102}]"),
        ("5361001000", "PropertyID=97 RawValueX=16"),
        ("5361001000200064", "PropertyID=97 RawValueX=16 ColumnWidth=32 RawValueY=100"),
        ("533412AABB", "PropertyID=4660 RawValueX=#AABB"),
        ("546000500A010000", "PropertyID=96 Columns=[{RawValueX=80 ColumnWidth=10 RawValueY=1}]"),
        ("54610010002000643000200032", "PropertyID=97 Columns=[{RawValueX=16 ColumnWidth=32 RawValueY=100},{RawValueX=48 ColumnWidth=32 RawValueY=50}]"),
        ("823261001000", "PropertyID=97 RawValueX=16"),
        ("82336100", "PropertyID=97"),
        ("8233610010002000", "PropertyID=97 RawValueX1=16 RawValueX2=32"),
        ("823334120102", "PropertyID=4660 RawValueX1=#01 RawValueX2=#02"),
        ("554F000302040A1020", "PropertyID=79 FastCadencePeriodDivisor=3 StatusTriggerType=0 StatusTriggerDeltaDown=2 StatusTriggerDeltaUp=4 StatusMinInterval=10 FastCadenceLow=16 FastCadenceHigh=32"),
        ("564F00836400C8000A1020", "PropertyID=79 FastCadencePeriodDivisor=3 StatusTriggerType=1 StatusTriggerDeltaDown=100 StatusTriggerDeltaUp=200 StatusMinInterval=10 FastCadenceLow=16 FastCadenceHigh=32"),
        ("574F00", "PropertyID=79"),
        ("573412010102030405060708090A0B0C0D", "PropertyID=4660 FastCadencePeriodDivisor=1 StatusTriggerType=0 StatusTriggerDeltaDown=#010203 StatusTriggerDeltaUp=#040506 StatusMinInterval=7 FastCadenceLow=#08090A FastCadenceHigh=#0B0C0D"),
        ("594F00130038FFC409", "SensorPropertyID=79 SensorSettingPropertyID=19 SensorSettingRaw={Minimum=-200 Maximum=2500}"),
        ("5A4F00341201", "SensorPropertyID=79 SensorSettingPropertyID=4660 SensorSettingRaw=#01"),
        ("5B4F001300", "SensorPropertyID=79 SensorSettingPropertyID=19"),
        ("5B4F007400030000003F", "SensorPropertyID=79 SensorSettingPropertyID=116 SensorSettingAccess=3 SensorSettingRaw=0.5"),

        // Scheduler: an unused entry comes as the index alone.
        ("5F03", "Index=3 RFU=0"),
        ("5F43FE7F203DE023410500", "Index=3 Year=100 Month=4095 Day=0 Hour=18 Minute=30 Second=0 DayOfWeek=31 Action=2 TransitionTime=65 SceneNumber=5"),

        // BLOB transfer: missing chunks as nothing, bitmap, or numbers in the code of UTF-8.
        ("670001000002", "Status=0 RFU=0 Format=0 Block_Number=1 Chunk_Size=512"),
        ("674001000002", "Status=0 RFU=0 Format=1 Block_Number=1 Chunk_Size=512"),
        ("6780010000020500", "Status=0 RFU=0 Format=2 Block_Number=1 Chunk_Size=512 Missing_Chunks=#0500"),
        ("67C00100000205C280", "Status=0 RFU=0 Format=3 Block_Number=1 Chunk_Size=512 Missing_Chunks=[5,128]"),
        ("68", "Encoded_Missing_Chunks=[]"),
        ("6805DFBFE0A080EFBFBFEDA080", "Encoded_Missing_Chunks=[5,2047,2048,65535,55296]"),

        // Remote provisioning.
        ("8056020109", "ADTypeFilterCount=2 ADTypeFilter=[1,9]"),
        ("805600" + Uuid + "0A", "ADTypeFilterCount=0 ADTypeFilter=[] UUID=#" + Uuid + " Timeout=10"),
        ("805700" + Uuid, "Status=0 UUID=#" + Uuid + " ADStructures=[]"),
        ("805700" + Uuid + "4020", "Status=0 UUID=#" + Uuid + " OOBInformation=8256 ADStructures=[]"),
        ("805700" + Uuid + "40200309414200", "Status=0 UUID=#" + Uuid + " OOBInformation=8256 ADStructures=[{Length=3 ADType=9 ADData=#4142},{Length=0}]"),
        ("805902", "NPPIProcedure=2"),
        ("8059" + Uuid, "UUID=#" + Uuid),
        ("8059" + Uuid + "0A", "UUID=#" + Uuid + " Timeout=10"),

        // Opcodes aggregator: both length formats; a message that is not known; an item without an answer.
        ("80720100048201088202010505008205",
            "Element_Address=1 Items=[{Length_Format=0 Length=2 Opcode_And_Parameters={Opcode=33281}},"
            + "{Length_Format=0 Length=4 Opcode_And_Parameters={Opcode=33282 OnOff=1 TID=5}},{Length_Format=1 Length=2 Opcode_And_Parameters={Opcode=33285}}]"),
        ("8072010008C10A0001", "Element_Address=1 Items=[{Length_Format=0 Length=4 Opcode_And_Parameters=#C10A0001}]"),
        ("80730001000682040100", "Status=0 Element_Address=1 Items=[{Length_Format=0 Length=3 Opcode_And_Parameters={Opcode=33284 PresentOnOff=1}},{Length_Format=0 Length=0}]"),

        // Directed forwarding: §8.16.20, .23, .24, .27, .30, .31, and the other choice of each.
        ("808423C1692403F1AC0501000100",
            "NetKeyIndex=291 Prohibited=0 Unicast_Destination_Flag=1 Backward_Path_Validated_Flag=1 Path_Origin_Unicast_Addr_Range={LengthPresent=1 RangeStart=4660 RangeLength=3} "
            + "Path_Target_Unicast_Addr_Range={LengthPresent=1 RangeStart=22136 RangeLength=5} Bearer_Toward_Path_Origin=1 Bearer_Toward_Path_Target=1"),
        ("80842301682400C001000200",
            "NetKeyIndex=291 Prohibited=0 Unicast_Destination_Flag=0 Backward_Path_Validated_Flag=0 Path_Origin_Unicast_Addr_Range={LengthPresent=0 RangeStart=4660} "
            + "Multicast_Destination=49152 Bearer_Toward_Path_Origin=1 Bearer_Toward_Path_Target=2"),
        ("80872301341278560203552504762555AD0277AD0698AD",
            "NetKeyIndex=291 Path_Origin=4660 Destination=22136 Dependent_Origin_Unicast_Addr_Range_List_Size=2 Dependent_Target_Unicast_Addr_Range_List_Size=3 "
            + "Dependent_Origin_Unicast_Addr_Range_List=[{LengthPresent=1 RangeStart=4778 RangeLength=4},{LengthPresent=0 RangeStart=4795}] "
            + "Dependent_Target_Unicast_Addr_Range_List=[{LengthPresent=1 RangeStart=22186 RangeLength=2},{LengthPresent=1 RangeStart=22203 RangeLength=6},{LengthPresent=0 RangeStart=22220}]"),
        ("80882301341278560101AA12CC56",
            "NetKeyIndex=291 Path_Origin=4660 Destination=22136 Dependent_Origin_List_Size=1 Dependent_Target_List_Size=1 Dependent_Origin_List=[4778] Dependent_Target_List=[22220]"),
        ("808B042371000034127856", "Status=4 NetKeyIndex=291 Dependents_List_Mask=3 Fixed_Path_Flag=1 Prohibited=0 Start_Index=0 Path_Origin=4660 Destination=22136"),
        ("808B142371000034127856CDAB", "Status=20 NetKeyIndex=291 Dependents_List_Mask=3 Fixed_Path_Flag=1 Prohibited=0 Start_Index=0 Path_Origin=4660 Destination=22136 Forwarding_Table_Update_Identifier=43981"),
        ("808B002371000034127856CDAB020355250277250354AD77AD0299AD03",
            "Status=0 NetKeyIndex=291 Dependents_List_Mask=3 Fixed_Path_Flag=1 Prohibited=0 Start_Index=0 Path_Origin=4660 Destination=22136 Forwarding_Table_Update_Identifier=43981 "
            + "Dependent_Origin_Unicast_Addr_Range_List_Size=2 Dependent_Target_Unicast_Addr_Range_List_Size=3 "
            + "Dependent_Origin_Unicast_Addr_Range_List=[{LengthPresent=1 RangeStart=4778 RangeLength=2},{LengthPresent=1 RangeStart=4795 RangeLength=3}] "
            + "Dependent_Target_Unicast_Addr_Range_List=[{LengthPresent=0 RangeStart=22186},{LengthPresent=1 RangeStart=22203 RangeLength=2},{LengthPresent=1 RangeStart=22220 RangeLength=3}]"),
        ("808E23310000CDAB", "NetKeyIndex=291 Filter_Mask=3 Start_Index=0 Forwarding_Table_Update_Identifier=43981"),
        ("808E23F1000034127856", "NetKeyIndex=291 Filter_Mask=15 Start_Index=0 Path_Origin=4660 Destination=22136"),
        ("808F0023310000", "Status=0 NetKeyIndex=291 Filter_Mask=3 Start_Index=0 Forwarding_Table_Entry_List=[]"),
        ("808F0023310000CDABBF00692403020100F1AC05030100AE000214000C0B08060101000F0C05011800012D000D0B0806010000C00100",
            "Status=0 NetKeyIndex=291 Filter_Mask=3 Start_Index=0 Forwarding_Table_Update_Identifier=43981 Forwarding_Table_Entry_List=["
            + "{Fixed_Path_Flag=1 Unicast_Destination_Flag=1 Backward_Path_Validated_Flag=1 Bearer_Toward_Path_Origin_Indicator=1 Bearer_Toward_Path_Target_Indicator=1 "
            + "Dependent_Origin_List_Size_Indicator=1 Dependent_Target_List_Size_Indicator=1 Prohibited=0 Path_Origin_Unicast_Addr_Range={LengthPresent=1 RangeStart=4660 RangeLength=3} "
            + "Dependent_Origin_List_Size=2 Bearer_Toward_Path_Origin=1 Path_Target_Unicast_Addr_Range={LengthPresent=1 RangeStart=22136 RangeLength=5} Dependent_Target_List_Size=3 Bearer_Toward_Path_Target=1},"
            + "{Fixed_Path_Flag=0 Unicast_Destination_Flag=1 Backward_Path_Validated_Flag=1 Bearer_Toward_Path_Origin_Indicator=1 Bearer_Toward_Path_Target_Indicator=0 "
            + "Dependent_Origin_List_Size_Indicator=1 Dependent_Target_List_Size_Indicator=1 Prohibited=0 Lane_Counter=2 Path_Remaining_Time=20 Path_Origin_Forwarding_Number=12 "
            + "Path_Origin_Unicast_Addr_Range={LengthPresent=1 RangeStart=1029 RangeLength=6} Dependent_Origin_List_Size=1 Bearer_Toward_Path_Origin=1 "
            + "Path_Target_Unicast_Addr_Range={LengthPresent=1 RangeStart=1543 RangeLength=5} Dependent_Target_List_Size=1},"
            + "{Fixed_Path_Flag=0 Unicast_Destination_Flag=0 Backward_Path_Validated_Flag=0 Bearer_Toward_Path_Origin_Indicator=1 Bearer_Toward_Path_Target_Indicator=1 "
            + "Dependent_Origin_List_Size_Indicator=0 Dependent_Target_List_Size_Indicator=0 Prohibited=0 Lane_Counter=1 Path_Remaining_Time=45 Path_Origin_Forwarding_Number=13 "
            + "Path_Origin_Unicast_Addr_Range={LengthPresent=1 RangeStart=1029 RangeLength=6} Bearer_Toward_Path_Origin=1 Multicast_Destination=49152 Bearer_Toward_Path_Target=1}]"),

        // Firmware: identifiers of a company and a version, lengths told by fields, a group address or a label UUID.
        ("83090100040A00312E00", "Firmware_Information_List_Count=1 First_Index=0 Firmware_Information_List=[{Current_Firmware_ID_Length=4 Current_Firmware_ID={CompanyID=10 Version_Information='1.'} Update_URI_Length=0}]"),
        ("8309010000036F3A61", "Firmware_Information_List_Count=1 First_Index=0 Firmware_Information_List=[{Current_Firmware_ID_Length=0 Update_URI_Length=3 Update_URI='o:a'}]"),
        ("8319010005400009030002C0", "Distribution_AppKey_Index=1 Distribution_TTL=5 Distribution_Timeout_Base=64 Distribution_Transfer_Mode=1 Update_Policy=0 RFU=1 Distribution_Firmware_Image_Index=3 Distribution_Multicast_Address=49154"),
        ("83190100054000050300" + Uuid, "Distribution_AppKey_Index=1 Distribution_TTL=5 Distribution_Timeout_Base=64 Distribution_Transfer_Mode=1 Update_Policy=1 RFU=0 Distribution_Firmware_Image_Index=3 Distribution_Multicast_Address=#" + Uuid),
        ("831F05400001020304050607080010000002ABCD0A0031", "Upload_TTL=5 Upload_Timeout_Base=64 Upload_BLOB_ID=578437695752307201 Upload_Firmware_Size=4096 Upload_Firmware_Metadata_Length=2 Upload_Firmware_Metadata=#ABCD Upload_Firmware_ID={CompanyID=10 Version_Information='1'}"),
        ("831F054000010203040506070800100000000A0031", "Upload_TTL=5 Upload_Timeout_Base=64 Upload_BLOB_ID=578437695752307201 Upload_Firmware_Size=4096 Upload_Firmware_Metadata_Length=0 Upload_Firmware_ID={CompanyID=10 Version_Information='1'}"),
        ("8320036F3A610A0031", "Upload_URI_Length=3 Upload_URI='o:a' Upload_Firmware_ID={CompanyID=10 Version_Information='1'}"),
        ("83220000", "Status=0 Upload_Phase=0"),
        ("83220001B20A00", "Status=0 Upload_Phase=1 Upload_Progress=50 Upload_Type=1 Upload_Firmware_ID={CompanyID=10}"),
        ("83230A0031", "Firmware_ID={CompanyID=10 Version_Information='1'}"),
        ("83250A00FF", "Firmware_ID={CompanyID=10 Version_Information=#FF}"),
        ("8327000200FFFF", "Status=0 Entry_Count=2 Distribution_Firmware_Image_Index=65535"),
        ("832700020001000A0031", "Status=0 Entry_Count=2 Distribution_Firmware_Image_Index=1 Firmware_ID={CompanyID=10 Version_Information='1'}"),
    ];

    [Theory, MemberData(nameof(Examples))]
    public void Example_IsReadAndWrittenBack(string payload, string fields)
    {
        DecodedMessage message = AccessReader.Read(Convert.FromHexString(payload));
        Assert.NotNull(message.Definition);
        Assert.False(message.Problem.IsProblem, message.Problem.ToString());
        Assert.Equal(fields, FieldText.Of(message.Fields));
        Assert.Equal(payload, Convert.ToHexString(AccessWriter.Write(message)));
    }
}
